"""What makes a change of curvature uncertain: its budget terms, output in 1/m."""

from __future__ import annotations

import math

import numpy as np

from filmstress.records.budget import Term
from filmstress.records.curvature import CurvatureFit, Trace
from filmstress.records.quantity import Measured, Source
from filmstress.records.registration import Registration
from filmstress.records.wafer import ScanSpec
from filmstress.stats.inner import inner


def fit_term(fit: CurvatureFit) -> Term:
    """What the residuals say of the fit."""
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


def repeatability_terms(length_m: float, *specs: ScanSpec | None) -> list[Term]:
    """What a single scan cannot see of itself: its bow_repeatability, once a scan."""
    u, dof = both(*(spec.bow_repeatability for spec in specs if spec is not None))
    if u == 0.0:
        return []
    return [
        Term(
            input="bow repeatability",
            value=0.0,
            unit="m",
            u=u,
            sensitivity=8.0 / length_m**2,
            dof=dof,
        )
    ]


def _curvature_slope(pre: Trace, step_m: float) -> float:
    """How the curvature over the scan's middle changes with place, d kappa / dx [1/m^2].

    The parabola is fitted to the height difference of the trace and itself moved by +-step.
    """
    inside = (pre.x >= pre.x[0] + step_m) & (pre.x <= pre.x[-1] - step_m) & pre.keep
    x = pre.x[inside]
    if x.size < 10:
        return 0.0
    kept_x, kept_z = pre.x[pre.keep], pre.z[pre.keep]
    slope = (np.interp(x + step_m, kept_x, kept_z) - np.interp(x - step_m, kept_x, kept_z)) / (
        2.0 * step_m
    )
    half = 0.5 * (x[-1] - x[0])
    t = (x - 0.5 * (x[0] + x[-1])) / half
    # Second Legendre coefficient: the parabola in the slope, free of its tilt and mean.
    p2 = 1.5 * t * t - 0.5
    p2 -= p2.mean()
    centred = t - t.mean()
    p2 -= centred * inner(centred, p2) / inner(centred, centred)
    return 3.0 * inner(p2, slope) / inner(p2, p2) / float(half) ** 2


def registration_terms(pre: Trace, registration: Registration, post_spec: ScanSpec) -> list[Term]:
    """A misplaced second scan reads the wafer's own change of curvature along the line."""
    if registration.u_offset_m == 0.0:
        return []
    reach = 0.2 * float(pre.x[-1] - pre.x[0])
    step = min(max(registration.u_offset_m, 1e-4), reach)
    return [
        Term(
            input="registration offset",
            value=registration.offset_m,
            unit="m",
            u=registration.u_offset_m,
            sensitivity=_curvature_slope(pre, step),
            dof=registration.dof,
            evaluation="A" if registration.determined and post_spec.offset is None else "B",
            source=Source.DATA if post_spec.offset is None else Source.STATED,
        )
    ]


def line_terms(pre: Trace, *specs: ScanSpec | None) -> list[Term]:
    """Sideways misplacement: the bare curvature is taken to change across as it does along."""
    u, dof = both(*(spec.line_repeatability for spec in specs if spec is not None))
    if u == 0.0:
        return []
    step = min(max(u, 1e-4), 0.2 * float(pre.x[-1] - pre.x[0]))
    return [
        Term(
            input="line misplacement",
            value=0.0,
            unit="m",
            u=u,
            sensitivity=abs(_curvature_slope(pre, step)),
            dof=dof,
        )
    ]


def both(*repeatabilities: Measured) -> tuple[float, float]:
    """Standard uncertainty that two scans together have, and the fewer of their degrees."""
    u = math.hypot(*(one.u or 0.0 for one in repeatabilities))
    return u, min((one.dof for one in repeatabilities if one.u), default=math.inf)
