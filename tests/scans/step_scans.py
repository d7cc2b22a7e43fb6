"""Scans over steps of a known height, drawn for the tests."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from filmstress.records.scan import Scan, ScanSource
from tests.stats.step_traces import correlated

Floats = NDArray[np.float64]

LENGTH, POINTS = 1e-3, 2000
X = np.linspace(0.0, LENGTH, POINTS)
HEIGHT = 100e-9


def scan_of(x: Floats, z: Floats, name: str = "step.csv") -> Scan:
    """A scan as if it had been read."""
    return Scan(x, z, ScanSource(name, name, "m", "m", "x", "z", x.size))


def film(*edges: float, first: bool = True, flank: float = 0.0, height: float = HEIGHT) -> Floats:
    """Heights of a film that begins or ends at every edge; ``first``: it lies at the left end."""
    z = np.full(POINTS, height if first else 0.0)
    sign = -1.0 if first else 1.0
    for edge in edges:
        z += sign * height * np.clip((X - edge) / max(flank, 1e-12) + 0.5, 0.0, 1.0)
        sign = -sign
    return z


def form(tilt_m: float = 0.0, bow_m: float = 0.0) -> Floats:
    """A line and a parabola, by their heights over the scan [m]."""
    t = X / LENGTH
    return tilt_m * t + 4.0 * bow_m * (t - 0.5) ** 2


NOISES: dict[str, Callable[[np.random.Generator], Floats]] = {
    "white": lambda rng: rng.standard_normal(POINTS),
    "correlated over 1 %": lambda rng: correlated(rng, 0.01 * POINTS, POINTS),
    "correlated over 10 %": lambda rng: correlated(rng, 0.1 * POINTS, POINTS),
    "a walk": lambda rng: np.cumsum(rng.standard_normal(POINTS)) / 30.0,
    "a wave": lambda rng: 0.3 * rng.standard_normal(POINTS) + 2.0 * np.sin(14.0 * X / LENGTH),
}


def noise(seed: int, kind: str = "white", size_m: float = 1e-9) -> Floats:
    """Noise of one of :data:`NOISES` [m]."""
    return size_m * NOISES[kind](np.random.default_rng(seed))


def write(path: Path, scan: Scan) -> str:
    """A scan as a text file, in micrometres and nanometres."""
    rows = (f"{x * 1e6:.6f},{z * 1e9:.6f}" for x, z in zip(scan.x, scan.z, strict=True))
    path.write_text("\n".join(["x [um],z [nm]", *rows, ""]), encoding="utf-8")
    return str(path)
