"""The interval proves itself: synthetic copies of a measurement go through the whole chain."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import FilmstressError, UsageError
from filmstress.records.budget import Term
from filmstress.records.curvature import CurvatureChange, Proof, Trace
from filmstress.records.notice import Notice, WarningCode
from filmstress.records.quantity import Source
from filmstress.records.wafer import ScanSpec
from filmstress.scans.curvature import curvature_change
from filmstress.stats.budget import combine
from filmstress.stats.coverage import t_factor, whole_dof
from filmstress.stats.noise import fit_quadratic
from filmstress.stats.noise_draw import draw_noise
from filmstress.stats.plain_fit import with_plain_parabola
from filmstress.stats.quadratic_fit import QuadraticFit

Floats = NDArray[np.float64]

PROBABILITY = 0.95
MIN_COPIES = 40


def prove(
    change: CurvatureChange,
    *,
    pre_spec: ScanSpec | None,
    post_spec: ScanSpec,
    copies: int,
    seed: int = 0,
) -> Proof:
    """Draw copies of a line's measurement and count how often their interval holds.

    A copy keeps the scan before, its mask and its sampling; the scan after is the scan before seen
    at an offset drawn from the found one's uncertainty, plus the fitted parabola, plus noise
    drawn from the model fitted to this very difference.  Both then go through masking,
    registration, subtraction and fit anew.

    Parameters
    ----------
    change : CurvatureChange
        The measured line.
    pre_spec, post_spec : ScanSpec
        Its conditions.
    copies : int
        How many, 40 or more.
    seed : int
        The same seed draws the same copies.

    Raises
    ------
    UsageError
        For fewer than 40 copies.
    """
    if copies < MIN_COPIES:
        raise UsageError(
            f"{copies} copies cannot tell a coverage of 95 %",
            where="prove",
            hint=f"ask for at least {MIN_COPIES}; 200 is a good number",
        )
    rng = np.random.default_rng(seed)
    fit = _fitted(change)
    ratios = []
    for _ in range(copies):
        pre, post = _copy(change, fit, rng)
        try:
            again = curvature_change(
                pre,
                post,
                pre_spec=pre_spec,
                post_spec=replace(post_spec, offset=None),
                bare_bow=None,
                setting=change.change.setting,
            )
        except FilmstressError:
            # A copy that is refused holds nothing.
            ratios.append(math.inf)
            continue
        budget = combine(again.terms)
        k = t_factor(PROBABILITY, whole_dof(budget.dof))
        error = abs(again.change.curvature - fit.curvature)
        reach = k * budget.u
        ratios.append(error / reach if reach > 0.0 else (0.0 if error == 0.0 else math.inf))
    held = sum(ratio <= 1.0 for ratio in ratios)
    return Proof(copies, held, _widening(sorted(ratios), held))


def _fitted(change: CurvatureChange) -> QuadraticFit:
    """The difference fitted once more, with the parabola that was told and the noise around it."""
    at = change.difference
    line = () if change.change.line_period is None else (1.0 / change.change.line_period,)
    fit = fit_quadratic(at.x, at.z, keep=at.keep, setting=change.change.setting, lines=line)
    if change.change.misfit_significant:
        fit = with_plain_parabola(fit, at.x, at.z, keep=at.keep)
    return fit


def _copy(
    change: CurvatureChange, fit: QuadraticFit, rng: np.random.Generator
) -> tuple[Trace, Trace]:
    before = change.pre.trace if change.pre is not None else None
    after = change.post.trace
    if before is None or change.registration is None:
        raise UsageError("a stated bare bow cannot be copied", where="prove")
    place = change.registration
    offset = place.offset_m
    if place.determined:
        offset += place.u_offset_m * float(rng.standard_normal())
    on_wafer = (offset - after.x) if place.reversed else (offset + after.x)
    inside = (on_wafer >= before.x[0]) & (on_wafer <= before.x[-1])
    x, on_wafer = after.x[inside], on_wafer[inside]
    texture = np.interp(on_wafer, before.x[before.keep], before.z[before.keep])
    z = texture + fit.height(on_wafer)
    for wave in fit.waves:
        z += wave.height(on_wafer)
    # Noise belongs to the time the scan was taken in, so it is drawn along the file.
    z += draw_noise(fit, x, rng)
    copy = replace(after, x=x, z=z, keep=after.keep[inside].copy())
    return before, copy


def proven(change: CurvatureChange, proof: Proof) -> CurvatureChange:
    """The change with its proof, its uncertainty widened where the interval fell short."""
    terms, warnings = change.terms, change.warnings
    if proof.widening > 1.0:
        variance = math.fsum(term.contribution**2 for term in terms)
        terms = (
            *terms,
            Term(
                input="shortfall of the interval",
                value=proof.coverage,
                unit="1",
                u=math.sqrt(variance * (proof.widening**2 - 1.0)),
                sensitivity=1.0,
                dof=float(proof.copies),
                evaluation="A",
                source=Source.DATA,
            ),
        )
        warnings = (
            *warnings,
            Notice(
                WarningCode.INTERVAL_WIDENED,
                f"in {proof.copies} copies of this measurement the 95 % interval held the truth "
                f"{100 * proof.coverage:.0f} % of the time; it was widened by a factor "
                f"{proof.widening:.2f}",
            ),
        )
    return replace(change, terms=terms, warnings=warnings, proof=proof)


def _widening(ratios: list[float], held: int) -> float:
    """The factor, or 1 where the shortfall is within two standard errors of 95 %."""
    n = len(ratios)
    slack = 2.0 * math.sqrt(PROBABILITY * (1.0 - PROBABILITY) / n)
    if held / n >= PROBABILITY - slack:
        return 1.0
    # Refused copies hold nothing, but say nothing of how far to widen either.
    finite = [ratio for ratio in ratios if math.isfinite(ratio)]
    if not finite:
        return 1.0
    return max(finite[min(math.ceil(PROBABILITY * len(finite)), len(finite)) - 1], 1.0)
