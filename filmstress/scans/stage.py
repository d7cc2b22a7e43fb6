"""The stage's own straightness, estimated from many scans of a lot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import RefusedInput
from filmstress.records.scan import Scan, ScanSource

Floats = NDArray[np.float64]

MIN_WAFERS = 4
_GRID = 1024


@dataclass(frozen=True, slots=True, eq=False)
class StageDatum:
    """Straightness of the stage in its own coordinates.

    Attributes
    ----------
    x, z : ndarray, shape (m,)
        Position on the stage and height [m]; offset, tilt and parabola of ``z`` are taken as 0,
        for no scan can tell them from those of its wafer.
    left_out : ndarray, shape (w, m)
        The same estimated without one of the wafers each [m]: how sure ``z`` is.
    """

    x: Floats
    z: Floats
    left_out: Floats

    @property
    def wafers(self) -> int:
        """Wafers it was estimated from."""
        return len(self.left_out)

    def as_scan(self) -> Scan:
        """As the scan of a flat would be."""
        source = ScanSource("from-lot", "", "m", "m", "stage", "straightness", self.x.size)
        return Scan(self.x, self.z, source)

    def curvature_u(self, low_m: float, high_m: float, shift_m: float) -> float:
        """Standard uncertainty that the datum leaves in a change of curvature [1/m].

        What is subtracted from the two scans differs where the wafer lay ``shift_m`` beside its
        old place; its parabola over ``low_m`` to ``high_m`` is re-estimated without each wafer in
        turn (jackknife; Efron, The Jackknife, the Bootstrap and Other Resampling Plans (1982),
        doi:10.1137/1.9781611970319, eq. 3.13).
        """
        if shift_m == 0.0:
            return 0.0
        at = np.linspace(low_m, high_m, 257)
        effects = np.array(
            [
                _parabola(at, np.interp(at, self.x, z) - np.interp(at - shift_m, self.x, z))
                for z in self.left_out
            ]
        )
        n = len(effects)
        return float(np.sqrt((n - 1) / n * np.sum((effects - effects.mean()) ** 2)))


def _parabola(x: Floats, z: Floats) -> float:
    """Curvature of a least-squares parabola [1/m]."""
    t = x - x.mean()
    return float(2.0 * np.polyfit(t / t[-1], z, 2)[0] / t[-1] ** 2)


def stage_from_scans(wafers: Sequence[Sequence[Scan]]) -> StageDatum:
    """Estimate the stage's straightness from the scans of several wafers.

    Model: height = stage(x on the stage) + wafer(x on the wafer) + offset, tilt and parabola of
    that scan + noise.  The stage is common to all scans, each wafer's own waviness to the scans of
    that wafer only; with the wafers exchangeable, the least-squares estimate of the stage is the
    mean over wafers of each wafer's mean residual from its parabolas.

    Parameters
    ----------
    wafers : sequence of sequences of Scan
        The scans of each wafer, all taken on one stage with one zero of x.

    Returns
    -------
    StageDatum
        Over the stretch that every scan covers.

    Raises
    ------
    RefusedInput
        Fewer than 4 wafers, or no common stretch.
    """
    if len(wafers) < MIN_WAFERS:
        raise RefusedInput(
            f"{len(wafers)} wafers cannot tell the stage from the wafers",
            where="datum = 'from-lot'",
            hint=f"scan at least {MIN_WAFERS} wafers, or scan a flat and name its file",
        )
    scans = [scan for wafer in wafers for scan in wafer]
    low = max(float(scan.x[0]) for scan in scans)
    high = min(float(scan.x[-1]) for scan in scans)
    if high - low < 0.5 * max(scan.length for scan in scans):
        raise RefusedInput(
            "the scans have too little of the stage in common",
            where="datum = 'from-lot'",
            hint="their x must be the stage's own position, with one zero for all of them",
        )
    grid = np.linspace(low, high, _GRID)
    t = (grid - grid.mean()) / (0.5 * (high - low))
    basis = np.linalg.qr(np.stack([np.ones_like(t), t, t * t], axis=1))[0]

    def residual(scan: Scan) -> Floats:
        z = np.interp(grid, scan.x, scan.z)
        rest: Floats = z - basis @ (basis.T @ z)
        return rest

    own = np.array([np.mean([residual(scan) for scan in wafer], axis=0) for wafer in wafers])
    total = own.sum(axis=0)
    n = len(own)
    return StageDatum(grid, total / n, (total - own) / (n - 1))
