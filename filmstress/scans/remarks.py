"""What there is to warn about in scans and their fits, in plain words."""

from __future__ import annotations

import math
from collections.abc import Iterator

from filmstress.records.curvature import CurvatureFit
from filmstress.records.notice import Notice, WarningCode
from filmstress.records.quantity import Measured
from filmstress.records.registration import Registration
from filmstress.scans.registration import LOW_MATCH

MASKED_SHARE_LIMIT = 0.05
DOWN_SHARE_LIMIT = 0.7
DOWN_COUNT_LIMIT = 3
MISFIT_SHARE_LIMIT = 0.05
CENTRED_APART_M = 0.1e-3
BEND_SHARE_LIMIT = 0.01
# A hundredth of an atom: what fits closer was not measured.
LEAST_RESIDUAL_M = 1e-12


def on_masks(fit: CurvatureFit, name: str) -> Iterator[Notice]:
    """Too many masked points; spikes that point the wrong way."""
    if fit.masked_share > MASKED_SHARE_LIMIT:
        yield Notice(
            WarningCode.MASKED_SHARE,
            f"{name}: {100 * fit.masked_share:.0f} % of the points were masked as dust or "
            "dropouts; "
            "look at the figure and clean or repeat the scan",
        )
    if fit.particles >= DOWN_COUNT_LIMIT and fit.down_share > DOWN_SHARE_LIMIT:
        yield Notice(
            WarningCode.DUST_POINTS_DOWN,
            f"{name}: {100 * fit.down_share:.0f} % of the masked points point down, but dust "
            "stands up; is the sign of the heights right? (height_up)",
        )


def on_registration(
    found: Registration, stated: Measured | None, *, masked_share: float, centred_apart_m: float
) -> Iterator[Notice]:
    """Scans that do not fit on one another, or not where they were said to.

    ``centred_apart_m`` is how far apart centring both scans moved their files' positions [m].
    """
    if stated is not None:
        apart = abs(found.offset_m - stated.value)
        if found.determined and apart > 3.0 * math.hypot(found.u_offset_m, stated.u or 0.0):
            yield Notice(
                WarningCode.OFFSET_DIFFERS,
                f"the stated offset of {1e3 * stated.value:.3g} mm is used, but the scans fit on "
                f"one another at {1e3 * found.offset_m:.3g} mm (match {found.match:.2f})",
            )
        resting = "the stated offset is used"
    else:
        resting = (
            f"the offset is taken as unknown within ± {1e3 * found.search_m:.2g} mm; where it is "
            "known, state it (offset)"
        )
    if abs(centred_apart_m) > CENTRED_APART_M:
        resting += (
            f". The files' positions have their middles {1e3 * abs(centred_apart_m):.3g} mm apart, "
            "which were laid on one another: state origin if the positions tell where on the wafer "
            "the scans lie"
        )
    if found.texture and found.match < LOW_MATCH:
        dusty = (
            f" (or the dust, {100 * masked_share:.0f} % of a scan, hides it)"
            if masked_share > MASKED_SHARE_LIMIT
            else ""
        )
        yield Notice(
            WarningCode.LOW_MATCH,
            f"the two scans share little of their fine waviness (match {found.match:.2f}): they "
            f"may not be the same wafer or the same line{dusty}; {resting}",
        )
    elif not found.texture:
        yield Notice(
            WarningCode.LOW_MATCH,
            "the scans hold too little fine waviness to tell whether they are the same wafer and "
            f"line; {resting}",
        )


def on_fit(fit: CurvatureFit) -> Iterator[Notice]:
    """What the difference's fit cannot say."""
    if fit.residual_rms < LEAST_RESIDUAL_M:
        yield Notice(
            WarningCode.UNCERTAINTY_NOT_ESTABLISHED,
            "the heights fit a parabola to a picometre, closer than any instrument measures, so "
            "they cannot say how uncertain they are; was the sensor off, or are they computed?",
        )
    elif not fit.established:
        yield Notice(
            WarningCode.UNCERTAINTY_NOT_ESTABLISHED,
            "the residuals are correlated over so much of the scan that it cannot establish its "
            "own uncertainty; repeat it, re-loaded each time",
        )
    share, even = fit.smooth_misfit_share, fit.curvature_even
    if fit.misfit_significant and share is not None and even is not None:
        # A shape that is small in height may still bend the ends differently from the middle.
        apart = abs(even - fit.curvature)
        if share > MISFIT_SHARE_LIMIT or apart > BEND_SHARE_LIMIT * abs(fit.curvature):
            yield Notice(
                WarningCode.NOT_A_PARABOLA,
                f"not a parabola: what the fit misses is {100 * share:.2g} % of it in height; the "
                f"even average of the curvature is {1e3 * even:.4g} 1/km against "
                f"{1e3 * fit.curvature:.4g} 1/km of the parabola, which weights the middle; in one "
                "line a slow drift can look the same, repeats and other azimuths tell them apart",
            )
    if fit.line_period is not None and fit.line_amplitude is not None:
        yield Notice(
            WarningCode.STAGE_WAVINESS,
            f"a wave of {fit.line_period * 1e3:.3g} mm period and {fit.line_amplitude * 1e9:.3g} "
            "nm amplitude, as a stage's guide makes, was fitted along with the parabola",
        )
