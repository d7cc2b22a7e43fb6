"""Scans, fits and lines as plain data."""

from __future__ import annotations

from filmstress.records.curvature import CurvatureChange, CurvatureFit, CurvatureProfile, Proof
from filmstress.records.registration import Registration
from filmstress.records.scan import ScanSource
from filmstress.report.quantities import (
    Data,
    bare_data,
    notices_data,
    number,
    quantity_data,
    values_data,
)
from filmstress.stats.coverage import estimate


def source_data(source: ScanSource) -> Data:
    """Where a scan came from and how it was read."""
    line = source.line_azimuth
    return {
        "file": source.path,
        **({} if line is None else {"line_azimuth": bare_data(line, "rad")}),
        "trace": source.trace,
        "trace_name": source.trace_name,
        "sha256": source.sha256,
        "position_unit": source.position_unit,
        "height_unit": source.height_unit,
        "position_column": source.position_column,
        "height_column": source.height_column,
        "rows": source.rows,
        "left_out": [
            {"reason": left.reason, "count": left.count, "first_line": left.first_line}
            for left in source.left_out
        ],
        "notes": list(source.notes),
    }


def fit_data(fit: CurvatureFit) -> Data:
    """One fitted parabola."""
    to_bow = fit.length**2 / 8.0
    return {
        "curvature": quantity_data(estimate(fit.curvature, "1/m", u=fit.u, dof=fit.dof)),
        "bow": quantity_data(estimate(fit.bow, "m", u=fit.u * to_bow, dof=fit.dof)),
        "length": bare_data(fit.length, "m"),
        "centre": bare_data(fit.centre, "m"),
        "points": fit.points,
        "points_used": fit.points_used,
        "masked_share": number(fit.masked_share),
        "particles": fit.particles,
        "dropouts": fit.dropouts,
        "residual_rms": bare_data(fit.residual_rms, "m"),
        "correlation_length": bare_data(fit.correlation_length, "m"),
        "block_white_share": number(fit.white_share),
        "uncertainty_established": fit.established,
        "noise_setting": fit.setting,
        "smooth_misfit_rms": bare_data(fit.smooth_misfit_rms, "m"),
        "smooth_misfit_share": number(fit.smooth_misfit_share),
        "misfit_significant": fit.misfit_significant,
        "curvature_even_average": bare_data(fit.curvature_even, "1/m"),
        "wave_period": bare_data(fit.line_period, "m"),
        "wave_amplitude": bare_data(fit.line_amplitude, "m"),
        "curvature_along_scan": _profile_data(fit.profile),
    }


def _profile_data(profile: CurvatureProfile | None) -> Data | None:
    if profile is None:
        return None
    return {
        "position": values_data(profile.x, "m"),
        "curvature": values_data(profile.curvature, "1/m"),
        "standard_uncertainty": values_data(profile.u, "1/m"),
        "degrees_of_freedom": number(profile.dof),
    }


def registration_data(registration: Registration | None) -> Data | None:
    """Where the second scan lies on the first."""
    if registration is None:
        return None
    offset = estimate(registration.offset_m, "m", u=registration.u_offset_m, dof=registration.dof)
    return {
        "offset": quantity_data(offset),
        "reversed": registration.reversed,
        "match": number(registration.match),
        "runner_up": number(registration.runner_up),
        "texture": registration.texture,
        "determined": registration.determined,
        "search": bare_data(registration.search_m, "m"),
    }


def line_data(line: CurvatureChange) -> Data:
    """One line: its scans, its difference, its registration."""
    return {
        "azimuth": bare_data(line.azimuth, "rad"),
        "pre": None if line.pre is None else fit_data(line.pre.fit),
        "post": fit_data(line.post.fit),
        "fit": fit_data(line.change),
        "registration": registration_data(line.registration),
        "proof": _proof_data(line.proof),
        "warnings": notices_data(line.warnings),
    }


def _proof_data(proof: Proof | None) -> Data | None:
    if proof is None:
        return None
    return {
        "copies": proof.copies,
        "held": proof.held,
        "coverage": proof.coverage,
        "widening": number(proof.widening),
    }
