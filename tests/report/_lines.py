"""Lines made by hand: two scans, their difference and its fit, from a few knobs.

Built with plain least squares, without the measuring rooms, so that a test of words or figures
cannot fail for another room's reason.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from filmstress.records.budget import Term
from filmstress.records.curvature import (
    CurvatureChange,
    CurvatureFit,
    CurvatureProfile,
    ParabolaBand,
    ScanCurvature,
    Trace,
)
from filmstress.records.notice import Notice
from filmstress.records.quantity import Source
from filmstress.records.registration import Registration

LENGTH_M = 80e-3
DOF = 31.0


def make_registration(**changes: Any) -> Registration:
    """Where the second scan lies on the first: a good match, 0.42 mm beside."""
    found = Registration(
        offset_m=0.42e-3,
        u_offset_m=12e-6,
        dof=20.0,
        reversed=False,
        match=0.97,
        runner_up=0.31,
        texture=True,
        determined=True,
        search_m=5e-3,
    )
    return dataclasses.replace(found, **changes)


def make_line(
    *,
    azimuth_deg: float = 0.0,
    change_per_m: float = 3.6e-3,
    pre_per_m: float = 1.5e-3,
    points: int = 2001,
    length_m: float = LENGTH_M,
    noise_m: float = 20e-9,
    waviness_m: float = 40e-9,
    misfit_m: float = 0.0,
    dust: Sequence[tuple[float, float]] = (),
    dust_points: int = 3,
    bare: bool = False,
    registration: Registration | None = None,
    seed: int = 1,
    warnings: tuple[Notice, ...] = (),
    **fit_changes: Any,
) -> CurvatureChange:
    """One line, scanned before and after.

    Parameters
    ----------
    azimuth_deg : float
        [deg].
    change_per_m, pre_per_m : float
        Curvature change and curvature before [1/m].
    points, length_m : int, float
        Of each scan; positions are even and centred.
    noise_m, waviness_m : float
        White noise of each scan, and the wafer's own waviness that both share, rms [m].
    misfit_m : float
        Amplitude of a smooth cubic in the change [m].
    dust : sequence of (position, height)
        Masked spikes of the scan after [m, m], ``dust_points`` points each.
    bare : bool
        A stated bow stands in for the scan before.
    registration : Registration, optional
        Default `make_registration()`; the scan after is laid out to match it.
    warnings : tuple of Notice
    **fit_changes
        Fields of the change's `CurvatureFit` to replace.
    """
    rng = np.random.default_rng(seed)
    found = make_registration() if registration is None else registration
    x = np.linspace(-0.5 * length_m, 0.5 * length_m, points)
    wave = waviness_m * math.sqrt(2.0) * np.sin(2.0 * math.pi * x / 7.3e-3 + 0.4)
    t = 2.0 * x / length_m
    cubic = misfit_m * (2.5 * t**3 - 1.5 * t)
    before = 0.5 * pre_per_m * x**2 + wave + noise_m * rng.standard_normal(points) + 1e-5 * t
    after = 0.5 * (pre_per_m + change_per_m) * x**2 + wave + cubic - 2e-5 * t + 3e-6
    after = after + noise_m * rng.standard_normal(points)
    keep = np.ones(points, dtype=bool)
    for place, height in dust:
        first = int(np.searchsorted(x, place))
        after[first : first + dust_points] += height
        keep[first : first + dust_points] = False
    change = after if bare else after - before
    fit = _fit(x, change, keep)
    if bare:
        fit = dataclasses.replace(fit, curvature=fit.curvature - pre_per_m)
    fit = dataclasses.replace(fit, **fit_changes)
    return CurvatureChange(
        azimuth=math.radians(azimuth_deg),
        pre=None if bare else _scan(x, before, np.ones(points, dtype=bool)),
        post=_as_stated(_scan(x, after, keep), None if bare else found),
        change=fit,
        difference=Trace(x, change, keep),
        registration=None if bare else found,
        pre_curvature=pre_per_m,
        pre_u=1e-5,
        terms=(_fit_term(fit),),
        warnings=warnings,
    )


def _fit(x: np.ndarray, z: np.ndarray, keep: np.ndarray) -> CurvatureFit:
    coefficients, covariance = np.polyfit(x[keep], z[keep], 2, cov="unscaled")
    left = z[keep] - np.polyval(coefficients, x[keep])
    rms = float(np.sqrt(np.mean(left**2)))
    grid = np.linspace(x[0], x[-1], 101)
    powers = np.vander(grid, 3)
    band_u = rms * np.sqrt(np.einsum("ij,jk,ik->i", powers, covariance, powers))
    masked = ~keep
    return CurvatureFit(
        curvature=2.0 * float(coefficients[0]),
        u=2.0 * rms * math.sqrt(covariance[0, 0]),
        dof=DOF,
        established=True,
        length=float(x[-1] - x[0]),
        centre=0.5 * float(x[0] + x[-1]),
        correlation_length=2e-3,
        white_share=0.8,
        residual_rms=rms,
        smooth_misfit_rms=0.1 * rms,
        smooth_misfit_share=0.002,
        misfit_significant=False,
        curvature_even=2.0 * float(coefficients[0]),
        points=x.size,
        points_used=int(keep.sum()),
        particles=int(np.count_nonzero(np.diff(masked.astype(int)) == 1)),
        dropouts=0,
        masked_share=float(masked.mean()),
        down_share=0.0,
        line_period=None,
        line_amplitude=None,
        setting="balanced",
        band=ParabolaBand(grid, np.polyval(coefficients, grid), band_u),
        profile=CurvatureProfile(
            grid[::5],
            np.full(21, 2.0 * float(coefficients[0])),
            np.full(21, 4.0 * rms * math.sqrt(covariance[0, 0])),
            DOF,
        ),
    )


def _scan(x: np.ndarray, z: np.ndarray, keep: np.ndarray) -> ScanCurvature:
    return ScanCurvature(Trace(x, z, keep), _fit(x, z, keep))


def _as_stated(after: ScanCurvature, found: Registration | None) -> ScanCurvature:
    """The scan after in its stated place, so that ``found`` lays it on the scan before."""
    if found is None:
        return after
    x, z, keep = after.trace.x - found.offset_m, after.trace.z, after.trace.keep
    if found.reversed:
        x, z, keep = -x[::-1], z[::-1], keep[::-1]
    return _scan(x, z, keep)


def _fit_term(fit: CurvatureFit) -> Term:
    return Term(
        input="curvature fit",
        value=fit.curvature,
        unit="1/m",
        u=fit.u,
        sensitivity=1.0,
        dof=fit.dof,
        evaluation="A",
        source=Source.DATA,
    )
