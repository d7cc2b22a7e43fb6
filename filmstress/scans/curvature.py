"""From traces to curvature: spikes out, parabola under correlated noise, change between states."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from filmstress.records.budget import Term
from filmstress.records.curvature import (
    CurvatureChange,
    CurvatureFit,
    CurvatureProfile,
    ParabolaBand,
    ScanCurvature,
    Trace,
)
from filmstress.records.quantity import Measured, Source
from filmstress.records.registration import Registration
from filmstress.records.wafer import ScanSpec
from filmstress.scans import remarks
from filmstress.scans.curvature_terms import (
    both,
    fit_term,
    line_terms,
    registration_terms,
    repeatability_terms,
)
from filmstress.scans.placing import SharedStage
from filmstress.scans.registration import LOW_MATCH, register
from filmstress.scans.subtraction import subtract
from filmstress.stats.lack_of_fit import LackOfFit, RicherFit, lack_of_fit, richer_fit
from filmstress.stats.local_curvature import local_curvature
from filmstress.stats.noise import fit_quadratic
from filmstress.stats.plain_fit import with_plain_parabola
from filmstress.stats.quadratic_fit import QuadraticFit
from filmstress.stats.robust import Spikes, find_spikes
from filmstress.stats.smooth_shape import smooth_shape
from filmstress.stats.spectrum import find_line

Floats = NDArray[np.float64]

SEARCH_M = 5e-3
WIDEST_PARTICLE_M = 0.5e-3
_BAND_POINTS = 101
_PROFILE_PLACES = 21


def particles_and_dropouts(trace: Trace) -> Spikes:
    """Points of a trace that belong to dust or are wild; what is wider than dust is shape."""
    widest = min(WIDEST_PARTICLE_M, float(trace.x[-1] - trace.x[0]) / 40.0)
    return find_spikes(trace.x, trace.z, keep=trace.keep, widest=widest)


def difference_fit(trace: Trace, *, setting: str) -> tuple[CurvatureFit, Trace]:
    """Fit a parabola to a difference of scans; the rest is noise unless it proves to be shape.

    Returns the fit, and the trace with its spikes masked.
    """
    spikes = particles_and_dropouts(trace)
    x, z, keep = trace.x, trace.z, spikes.keep
    fit = fit_quadratic(x, z, keep=keep, setting=setting)
    wave = find_line(x, fit.residual(x, z), keep=keep)
    if wave is not None:
        fit = fit_quadratic(x, z, keep=keep, setting=setting, lines=(wave.frequency,))
    richer = richer_fit(fit)
    misfit = lack_of_fit(fit, richer)
    # Where what is left is shape, only the plain parabola has a meaning.
    told = with_plain_parabola(fit, x, z, keep=keep) if misfit.significant else fit
    looked = _with_shape(_told(trace, spikes, told), fit, richer, misfit, plain=misfit.significant)
    if wave is not None:
        looked = replace(looked, line_period=1.0 / wave.frequency, line_amplitude=wave.amplitude)
    return looked, replace(trace, keep=keep)


def scan_curvature(
    trace: Trace, *, setting: str = "balanced", name: str = "the scan", with_shape: bool = False
) -> ScanCurvature:
    """Curvature of one scan alone: the plain parabola, for the rest is the wafer's own shape.

    Parameters
    ----------
    trace : Trace
        Points; those with ``keep`` False stay out.
    setting : str
        Setting of the noise model: "sharp", "balanced" or "safe".
    name : str
        What to call the scan in remarks.
    with_shape : bool
        Whether to look at that shape too: misfit of the parabola, curvature along the scan.
    """
    spikes = particles_and_dropouts(trace)
    weighted = fit_quadratic(trace.x, trace.z, keep=spikes.keep, setting=setting)
    fit = with_plain_parabola(weighted, trace.x, trace.z, keep=spikes.keep)
    told = _told(trace, spikes, fit)
    if with_shape:
        richer = richer_fit(fit)
        told = _with_shape(told, fit, richer, lack_of_fit(fit, richer), plain=True)
    masked = replace(trace, keep=spikes.keep)
    return ScanCurvature(masked, told, tuple(remarks.on_masks(told, name)))


def _told(trace: Trace, spikes: Spikes, fit: QuadraticFit) -> CurvatureFit:
    x = trace.x
    grid = np.linspace(x[0], x[-1], _BAND_POINTS)
    return CurvatureFit(
        curvature=fit.curvature,
        u=fit.u,
        dof=fit.dof,
        established=fit.established,
        length=float(x[-1] - x[0]),
        centre=0.5 * float(x[0] + x[-1]),
        correlation_length=fit.correlation_length,
        white_share=fit.white_share,
        residual_rms=fit.residual_rms,
        points=int(x.size),
        points_used=fit.points_used,
        particles=spikes.particles,
        dropouts=spikes.dropouts,
        masked_share=spikes.share,
        down_share=spikes.share_down,
        setting=str(fit.setting),
        band=ParabolaBand(grid, fit.height(grid), fit.height_u(grid)),
    )


def _with_shape(
    told: CurvatureFit,
    fit: QuadraticFit,
    richer: RicherFit | None,
    misfit: LackOfFit,
    *,
    plain: bool,
) -> CurvatureFit:
    places = np.linspace(told.band.x[0], told.band.x[-1], _PROFILE_PLACES)
    local = local_curvature(fit, places, richer)
    return replace(
        told,
        smooth_misfit_rms=misfit.rms,
        smooth_misfit_share=misfit.share,
        misfit_significant=misfit.significant,
        curvature_even=misfit.curvature_even,
        profile=CurvatureProfile(places, local.curvature, local.u, local.dof),
        shape=smooth_shape(fit, richer, plain=plain),
    )


def curvature_change(
    pre: Trace | None,
    post: Trace,
    *,
    pre_spec: ScanSpec | None,
    post_spec: ScanSpec,
    bare_bow: Measured | None = None,
    known: Callable[[Floats], Floats] | None = None,
    setting: str = "balanced",
) -> CurvatureChange:
    """Change of curvature of one line, after minus before.

    Parameters
    ----------
    pre, post : Trace
        The two scans in the wafer's frame; without ``pre`` a ``bare_bow`` stands in for it.
    pre_spec, post_spec : ScanSpec
        Conditions of the scans: stated offset, repeatabilities.
    bare_bow : Measured, optional
        Bow of the uncoated wafer over the length of ``post`` [m].
    known : callable, optional
        Heights [m] by position on the wafer [m] that are known to be in the difference, and are
        taken out of it: another sag on another support.
    setting : str
        Setting of the noise model.

    Raises
    ------
    MeasurementRefused
        If the scans do not overlap, or too few points remain.
    """
    azimuth = post_spec.azimuth.value if pre_spec is None else pre_spec.azimuth.value
    after = scan_curvature(post, setting=setting, name="the scan after")
    if pre is None:
        if bare_bow is None:
            raise ValueError("either a scan before or the bare bow is needed")
        if known is not None:
            less = replace(post, z=post.z - known(post.x))
            after = scan_curvature(less, setting=setting, name="the scan after")
        return _change_from_bow(after, azimuth, post_spec, bare_bow)
    before = scan_curvature(pre, setting=setting, name="the scan before")
    found = _found(before.trace, after.trace)
    registration = _decided(found, pre_spec, post_spec)
    x, dz, keep = subtract(
        before.trace.x,
        before.trace.z,
        before.trace.keep,
        after.trace.x,
        after.trace.z,
        after.trace.keep,
        offset_m=registration.offset_m,
        reversed=registration.reversed,
    )
    if known is not None:
        dz = dz - known(x)
    change, difference = difference_fit(Trace(x, dz, keep), setting=setting)
    terms = [
        fit_term(change),
        *repeatability_terms(change.length, pre_spec, post_spec),
        *registration_terms(before.trace, registration, post_spec),
        *line_terms(before.trace, pre_spec, post_spec),
    ]
    return CurvatureChange(
        azimuth=azimuth,
        pre=before,
        post=after,
        change=change,
        difference=difference,
        registration=registration,
        pre_curvature=before.fit.curvature,
        pre_u=before.fit.u,
        terms=tuple(terms),
        warnings=(
            *before.warnings,
            *after.warnings,
            *remarks.on_registration(
                found,
                post_spec.offset,
                masked_share=max(before.fit.masked_share, after.fit.masked_share),
                centred_apart_m=_centred_apart(pre, post, pre_spec, post_spec),
            ),
            *remarks.on_fit(change),
        ),
    )


def _change_from_bow(
    after: ScanCurvature, azimuth: float, spec: ScanSpec, bare_bow: Measured
) -> CurvatureChange:
    per_bow = 8.0 / after.fit.length**2
    pre_curvature = per_bow * bare_bow.value
    pre_u = per_bow * (bare_bow.u or 0.0)
    change = replace(
        after.fit,
        curvature=after.fit.curvature - pre_curvature,
    )
    bow_term = Term(
        input="bare bow",
        value=bare_bow.value,
        unit="m",
        u=bare_bow.u or 0.0,
        sensitivity=-per_bow,
        dof=bare_bow.dof,
        shape=bare_bow.shape,
        source=bare_bow.source,
    )
    return CurvatureChange(
        azimuth=azimuth,
        pre=None,
        post=after,
        change=change,
        difference=after.trace,
        registration=None,
        pre_curvature=pre_curvature,
        pre_u=pre_u,
        terms=(
            fit_term(change),
            bow_term,
            *repeatability_terms(change.length, None, spec),
        ),
        warnings=(*after.warnings, *remarks.on_fit(change)),
    )


def _found(pre: Trace, post: Trace) -> Registration:
    # Where both scans stood on the same place of the stage, its straightness fakes a match.
    stage = SharedStage(offset_m=pre.origin - post.origin, reversed=pre.backwards != post.backwards)
    return register(
        pre.x,
        pre.z,
        post.x,
        post.z,
        search_m=SEARCH_M,
        keep_pre=pre.keep,
        keep_post=post.keep,
        stage=None if pre.datum_removed and post.datum_removed else stage,
    )


def _centred_apart(
    pre: Trace, post: Trace, pre_spec: ScanSpec | None, post_spec: ScanSpec
) -> float:
    """How far centring moved one file against the other [m]; 0 where the origins are stated."""
    stated = post_spec.origin is not None or (pre_spec is not None and pre_spec.origin is not None)
    if stated or pre.backwards != post.backwards:
        return 0.0
    return pre.origin - post.origin


def _decided(found: Registration, pre_spec: ScanSpec | None, post_spec: ScanSpec) -> Registration:
    """The placement to use: the stated one, the found one, or the stated positions."""
    stated = post_spec.offset
    if stated is not None:
        return replace(
            found,
            offset_m=stated.value,
            u_offset_m=stated.u or 0.0,
            dof=stated.dof,
            reversed=found.reversed and found.determined,
            determined=True,
        )
    if found.determined and found.match >= LOW_MATCH:
        return found
    spread, dof = SEARCH_M / math.sqrt(3.0), math.inf
    if not found.texture and post_spec.offset_repeatability.source is Source.STATED:
        # Smooth scans cannot be laid on one another; the stated re-loading repeatability can say.
        before = post_spec if pre_spec is None else pre_spec
        spread, dof = both(before.offset_repeatability, post_spec.offset_repeatability)
    return replace(
        found, offset_m=0.0, u_offset_m=spread, dof=dof, reversed=False, determined=False
    )
