"""Maps that are measured without files: a reader that takes lines of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from filmstress.inputs.request import LineInput, build_wafer
from filmstress.inputs.settings import from_arguments
from filmstress.measure.lines import Read
from filmstress.measure.map_lines import with_directions
from filmstress.records.scan import HeightMap, ReadingOptions, Scan
from filmstress.records.wafer import WaferSpec
from filmstress.scans.map_line import scan_of_map

STATED = {
    "substrate": "Si(001)",
    "substrate_thickness": "525 um ± 2 um",
    "film_thickness": "1.00 um ± 2 %",
    "film_thickness_profile": "0 % (exact)",
    "support": "three-points",
    "diameter": "150 mm",
}


def reader(maps: Mapping[str, HeightMap]) -> Read:
    """Reads lines of maps by their names."""

    def read(path: str, options: ReadingOptions) -> Scan:
        return scan_of_map(maps[path], options.line_azimuth or 0.0)

    return read


def request(lines: Sequence[Mapping[str, str]], **stated: str) -> WaferSpec:
    """A wafer of lines that each name a map before and one after, and what else they state."""
    common = from_arguments({**STATED, **stated}, as_options=False, shared_by="wafer")
    inputs = []
    for line in lines:
        own = {key: text for key, text in line.items() if key not in ("pre", "post")}
        paths = {state: line[state] for state in ("pre", "post")}
        own_settings = from_arguments(own, as_options=False, shared_by="wafer")
        inputs.append(LineInput(own_settings, paths, "maps"))
    return build_wafer("w", common, with_directions(inputs, common, is_map=lambda _: True))


def write_sdf(path: Path, height_map: HeightMap) -> str:
    """A map as an ASCII file of ISO 25178-71."""
    rows, columns = height_map.z.shape
    header = {
        "ManufacID": "simulated",
        "CreateDate": "010120260000",
        "ModDate": "010120260000",
        "NumPoints": columns,
        "NumProfiles": rows,
        "Xscale": float(height_map.x[1] - height_map.x[0]),
        "Yscale": float(height_map.y[1] - height_map.y[0]),
        "Zscale": 1e-9,
        "Zresolution": -1,
        "Compression": 0,
        "DataType": 7,
        "CheckType": 0,
    }
    head = "\n".join(f"{name} = {value}" for name, value in header.items())
    heights = "\n".join(
        " ".join("BAD" if np.isnan(z) else f"{z * 1e9:.4f}" for z in row) for row in height_map.z
    )
    path.write_text(f"aISO-1.0\n{head}\n*\n{heights}\n*\n*\n", encoding="ascii")
    return str(path)
