"""The demo's steps: two scans across grooves that were etched through a film."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from filmstress.simulate import noise_sources
from filmstress.simulate.writing import make_directory, write_new, write_scan

FloatArray = NDArray[np.float64]

FOLDER = "step"
FILM_M = 203.4e-9
# Of both scans: the gauge shows heights that are this much too great.
HEIGHT_SCALE = 1.0012
SCANS = ("step-1.csv", "step-2.csv")
TRUTH = f"""\
# What the scans were drawn from: SI units, in the names.
film_thickness_m = {FILM_M!r}
height_scale = {HEIGHT_SCALE!r}
"""

_SPACING_M, _POINTS = 1e-6, 2001
# Edges of the grooves, and over what length they slope.
_GROOVES_M = ((0.45e-3, 0.75e-3), (1.25e-3, 1.55e-3))
_SLOPE_M = 4e-6
_BOW_M, _TILT = 30e-9, 4e-5
_SEED = 2511


def write_step(root: Path) -> list[Path]:
    """Draw the scans into a new folder of the demo; every call writes the same bytes.

    Raises
    ------
    RefusedInput
        The folder cannot be written to.
    """
    folder = root / FOLDER
    make_directory(folder)
    written = [folder / "truth.toml"]
    write_new(written[0], TRUTH)
    for number, name in enumerate(SCANS):
        rng = np.random.default_rng([_SEED, number])
        x = _SPACING_M * np.arange(_POINTS, dtype=np.float64)
        z = FILM_M * _film_share(x + 7e-6 * number) + _BOW_M * (2.0 * x / x[-1] - 1.0) ** 2
        z += _TILT * x + noise_sources.white(rng, _POINTS, sd_m=0.4e-9)
        z += noise_sources.ornstein_uhlenbeck(
            rng, _POINTS, sd_m=1.5e-9, length_m=5e-6, spacing_m=_SPACING_M
        )
        z += noise_sources.dust(rng, x, count=2, height_m=0.4e-6, width_m=6e-6)
        written.append(folder / name)
        write_scan(x, HEIGHT_SCALE * z, written[-1], style="headed")
    return written


def _film_share(x: FloatArray) -> FloatArray:
    """1 on the film, 0 in the grooves, straight slopes between."""
    share = np.ones_like(x)
    for low, high in _GROOVES_M:
        inside = np.minimum(x - low, high - x) / _SLOPE_M + 0.5
        share -= np.clip(inside, 0.0, 1.0)
    return share
