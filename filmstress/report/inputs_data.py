"""What was asked, as plain data: SI, with how each uncertainty was read and the files' hashes."""

from __future__ import annotations

from collections.abc import Sequence

from filmstress.records.scan import ScanSource
from filmstress.records.wafer import ScanSpec, WaferSpec
from filmstress.report.fit_data import source_data
from filmstress.report.quantities import Data, measured_data, values_data


def inputs_data(wafer: WaferSpec, files: Sequence[tuple[str, ScanSource]]) -> Data:
    """Everything that was asked, in SI, with the files' hashes."""
    substrate, film = wafer.substrate, wafer.film
    return {
        "settings": dict(wafer.settings),
        "substrate": {
            "material": substrate.material,
            "azimuth_reference": substrate.azimuth_reference,
            **{
                name: measured_data(getattr(substrate, name))
                for name in (
                    "thickness",
                    "diameter",
                    "miscut",
                    "youngs_modulus",
                    "poisson_ratio",
                    "modulus",
                    "density",
                )
            },
        },
        "film": {
            "material": film.material,
            "face": film.face.value,
            "faces": "both" if film.both_faces else "one",
            **{
                name: measured_data(getattr(film, name))
                for name in (
                    "thickness",
                    "modulus",
                    "youngs_modulus",
                    "poisson_ratio",
                    "uncoated_ring",
                    "thickness_profile",
                )
            },
            "thickness_files": [
                {"file": path, "sha256": sha256} for path, sha256 in film.thickness_files
            ],
        },
        "lines": [
            {state.name: _conditions_data(state.scan) for state in (*line.states, *line.weight)}
            for line in wafer.lines
        ],
        "bare_bow": measured_data(wafer.bare_bow),
        "gravity": measured_data(wafer.gravity) if any(one.weight for one in wafer.lines) else None,
        "reference": wafer.reference,
        "role": wafer.role,
        "files": [{"state": state, **source_data(source)} for state, source in files],
    }


def _conditions_data(scan: ScanSpec) -> Data:
    return {
        "file": scan.path,
        "support": None if scan.support is None else scan.support.value,
        "window": None if scan.window is None else values_data(scan.window, "m"),
        "datum": scan.datum,
        "height_up": scan.height_up,
        **{
            name: measured_data(getattr(scan, name))
            for name in (
                "azimuth",
                "support_radius",
                "support_azimuth",
                "origin",
                "offset",
                "bow_repeatability",
                "offset_repeatability",
                "line_repeatability",
                "position_scale",
                "height_scale",
            )
        },
        **dict(scan.labels),
    }
