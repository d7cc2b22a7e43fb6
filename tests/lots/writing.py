"""Lot files and small simulated lots that the tests start from."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from filmstress.errors import Faults, FilmstressError
from filmstress.simulate.pair import simulate_wafer
from filmstress.simulate.truth import Truth
from filmstress.simulate.writing import write_scan

MINIMAL = """\
lot = "K7"
[substrate]
material = "Si(001)"
thickness = "675 um ± 2 um"
[[wafer]]
id = "01"
scans = [{ pre = "a.csv", post = "b.csv" }]
"""

HEAD = """\
lot = "K7"
recipe = "test"
[substrate]
material = "Si(001)"
azimuth_reference = "[110]"
diameter = "150 mm"
thickness = "675 um ± 1 um"
[film]
thickness = "500 nm ± 3 nm"
thickness_profile = "0 (exact)"
[scan]
support = "three-points"
bow_repeatability = "10 nm"
offset_repeatability = "100 um"
line_repeatability = "0 um"
position_scale_uncertainty = "0.05 %"
height_scale_uncertainty = "0.1 %"
"""

TRUTH = Truth(
    substrate="Si(001)",
    azimuth_reference="[110]",
    substrate_thickness_m=675e-6,
    diameter_m=150e-3,
    stress_x_pa=200e6,
    film_thickness_m=500e-9,
    azimuths_rad=(0.0,),
    scan_length_m=120e-3,
    points=601,
    bare_bow_m=8e-6,
    bare_cubic_share=0.05,
    waviness_rms_m=60e-9,
    waviness_length_m=1.2e-3,
    white_noise_m=4e-9,
)


def write_lot(
    folder: Path,
    stresses: Mapping[str, float | tuple[float, float]],
    *,
    tail: str = "",
    head: str = HEAD,
    wafers: Mapping[str, str] | None = None,
    azimuths: Sequence[float] = (0.0,),
    repeats: int = 1,
) -> Path:
    """A lot of simulated wafers with these stresses [Pa]; ``wafers`` adds to their entries."""
    text = head + tail
    for number, (name, stress) in enumerate(stresses.items()):
        along, across = stress if isinstance(stress, tuple) else (stress, stress)
        truth = replace(
            TRUTH,
            stress_x_pa=along,
            stress_y_pa=across,
            azimuths_rad=tuple(azimuths),
            seed=number + 1,
        )
        scans = []
        for pair in simulate_wafer(truth, repeats=repeats):
            degrees = round(math.degrees(pair.azimuth_rad))
            end = f"{name}-{degrees}" + (f"-{pair.repeat}" if pair.repeat else "") + ".csv"
            for trace in (pair.pre_trace, pair.post_trace):
                write_scan(trace.x, trace.z, folder / f"{trace.name}-{end}")
            scans.append(
                f'{{ azimuth = "{degrees} deg ± 0.1 deg", pre = "pre-{end}", post = "post-{end}" }}'
            )
        extra = (wafers or {}).get(name, "")
        text += f'[[wafer]]\nid = "{name}"\n{extra}\nscans = [{", ".join(scans)}]\n'
    path = folder / "lot.toml"
    path.write_text(text, encoding="utf-8")
    return path


def listed(error: FilmstressError) -> list[FilmstressError]:
    """The faults of an error, one or several."""
    return list(error.faults) if isinstance(error, Faults) else [error]
