"""The stage's own straightness, estimated from many scans of a lot."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import RefusedInput
from filmstress.records.scan import Scan, ScanSource

Floats = NDArray[np.float64]

MIN_WAFERS = 4
_GRID = 1024
# With more wafers than these, several are left out together: what is kept does not grow.
_MOST_GROUPS = 64


@dataclass(frozen=True, slots=True, eq=False)
class StageDatum:
    """Straightness of the stage in its own coordinates.

    Attributes
    ----------
    x, z : ndarray, shape (m,)
        Position on the stage and height [m]; offset, tilt and parabola of ``z`` are taken as 0,
        for no scan can tell them from those of its wafer.
    left_out : ndarray, shape (g, m)
        The same estimated without one of the wafers each [m], or without one of 64 groups of them:
        how sure ``z`` is.
    """

    x: Floats
    z: Floats
    left_out: Floats

    @property
    def dof(self) -> float:
        """Degrees of freedom of what it leaves in a curvature."""
        return len(self.left_out) - 1.0

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
    grid = stage_grid([ends_of(scan) for scan in wafer] for wafer in wafers)
    return stage_from_residuals(grid, (wafer_on_stage(scans, grid) for scans in wafers))


def ends_of(scan: Scan) -> tuple[float, float]:
    """First and last position on the stage [m]."""
    return float(scan.x[0]), float(scan.x[-1])


def stage_grid(wafers: Iterable[Sequence[tuple[float, float]]]) -> Floats:
    """Positions on the stage [m] that every scan covers, from the ends of each wafer's scans.

    Raises
    ------
    RefusedInput
        Fewer than 4 wafers, or no common stretch.
    """
    count, low, high, longest = 0, -np.inf, np.inf, 0.0
    for scans in wafers:
        count += 1
        for first, last in scans:
            low, high, longest = max(low, first), min(high, last), max(longest, last - first)
    if count < MIN_WAFERS:
        raise RefusedInput(
            f"{count} wafers cannot tell the stage from the wafers",
            where="datum = 'from-lot'",
            hint=f"scan at least {MIN_WAFERS} wafers, or scan a flat and name its file",
        )
    if high - low < 0.5 * longest:
        raise RefusedInput(
            "the scans have too little of the stage in common",
            where="datum = 'from-lot'",
            hint="their x must be the stage's own position, with one zero for all of them",
        )
    return np.linspace(low, high, _GRID)


def wafer_on_stage(scans: Sequence[Scan], grid: Floats) -> Floats:
    """Mean residual of one wafer's scans from their parabolas [m], at positions on the stage."""
    t = (grid - grid.mean()) / (0.5 * (grid[-1] - grid[0]))
    basis = np.linalg.qr(np.stack([np.ones_like(t), t, t * t], axis=1))[0]

    def residual(scan: Scan) -> Floats:
        z = np.interp(grid, scan.x, scan.z)
        rest: Floats = z - basis @ (basis.T @ z)
        return rest

    mean: Floats = np.mean([residual(scan) for scan in scans], axis=0)
    return mean


def stage_from_residuals(grid: Floats, wafers: Iterable[Floats]) -> StageDatum:
    """The stage from `wafer_on_stage` of each wafer, one after another.

    With more than 64 wafers the jackknife leaves out groups of them (Efron, as above, section 3.1).
    """
    sums = np.zeros((_MOST_GROUPS, grid.size))
    sizes = np.zeros(_MOST_GROUPS)
    for number, own in enumerate(wafers):
        sums[number % _MOST_GROUPS] += own
        sizes[number % _MOST_GROUPS] += 1.0
    used = sizes > 0.0
    sums, sizes = sums[used], sizes[used]
    total, count = sums.sum(axis=0), sizes.sum()
    return StageDatum(grid, total / count, (total - sums) / (count - sizes)[:, None])
