"""Results as plain data for JSON: SI units only, and never a number that JSON does not know."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from filmstress.records.budget import Budget, BudgetRow
from filmstress.records.curvature import (
    CurvatureChange,
    CurvatureFit,
    CurvatureProfile,
    ScanCurvature,
)
from filmstress.records.notice import Notice
from filmstress.records.quantity import Estimate, Measured
from filmstress.records.registration import Registration
from filmstress.records.result import StressResult
from filmstress.records.scan import ScanSource
from filmstress.records.wafer import ScanSpec, WaferSpec
from filmstress.stats.coverage import estimate

Data = dict[str, Any]


def headed(schema: str, version: str) -> Data:
    """The head of every object: schema name and version, and the program's version."""
    return {"schema": f"filmstress/{schema}/1", "filmstress": version}


def number(value: float | None) -> float | None:
    """A finite number as it is; what JSON has no number for becomes null."""
    return None if value is None or not math.isfinite(value) else float(value)


def quantity_data(quantity: Estimate | None) -> Data | None:
    """One quantity with its interval."""
    if quantity is None:
        return None
    return {
        "value": number(quantity.value),
        "unit": quantity.unit,
        "standard_uncertainty": number(quantity.u),
        "expanded_uncertainty": number(quantity.expanded),
        "coverage_factor": number(quantity.k),
        "coverage_probability": quantity.p,
        "interval": [number(quantity.low), number(quantity.high)],
        "degrees_of_freedom": number(quantity.dof),
    }


def measured_data(measured: Measured | None) -> Data | None:
    """One input as read, in the form of a quantity, with how its uncertainty was read."""
    if measured is None:
        return None
    data = quantity_data(estimate(measured.value, measured.unit, u=measured.u, dof=measured.dof))
    assert data is not None
    return data | {
        "distribution": measured.shape.value,
        "uncertainty_source": measured.source.value,
        "read_as": measured.read_as,
    }


def notices_data(notices: Sequence[Notice]) -> list[Data]:
    """Warnings as code and message."""
    return [{"code": notice.code.value, "message": notice.message} for notice in notices]


def source_data(source: ScanSource) -> Data:
    """Where a scan came from and how it was read."""
    return {
        "file": source.path,
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
    curvature = estimate(fit.curvature, "1/m", u=fit.u, dof=fit.dof)
    return {
        "curvature": quantity_data(curvature),
        "bow": number(fit.bow),
        "length": fit.length,
        "centre": fit.centre,
        "points": fit.points,
        "points_used": fit.points_used,
        "masked_share": number(fit.masked_share),
        "particles": fit.particles,
        "dropouts": fit.dropouts,
        "residual_rms": number(fit.residual_rms),
        "correlation_length": number(fit.correlation_length),
        "white_share": number(fit.white_share),
        "uncertainty_established": fit.established,
        "noise_setting": fit.setting,
        "smooth_misfit_rms": number(fit.smooth_misfit_rms),
        "smooth_misfit_share": number(fit.smooth_misfit_share),
        "misfit_significant": fit.misfit_significant,
        "curvature_even_average": number(fit.curvature_even),
        "wave_period": number(fit.line_period),
        "wave_amplitude": number(fit.line_amplitude),
        "curvature_along_scan": _profile_data(fit.profile),
    }


def _profile_data(profile: CurvatureProfile | None) -> Data | None:
    if profile is None:
        return None
    return {
        "position": profile.x.tolist(),
        "curvature": profile.curvature.tolist(),
        "standard_uncertainty": profile.u.tolist(),
        "degrees_of_freedom": number(profile.dof),
        "units": ["m", "1/m", "1/m"],
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
        "search": registration.search_m,
    }


def row_data(row: BudgetRow) -> Data:
    """One row of a budget."""
    term = row.term
    return {
        "input": term.input,
        "value": number(term.value),
        "unit": term.unit,
        "standard_uncertainty": number(term.u),
        "sensitivity": number(term.sensitivity),
        "contribution": number(term.contribution),
        "share": number(row.share),
        "evaluation": term.evaluation,
        "common_to": term.common_to,
        "distribution": term.shape.value,
        "degrees_of_freedom": number(term.dof),
        "uncertainty_source": term.source.value,
    }


def budget_data(budget: Budget) -> list[Data]:
    """The rows of a budget, largest share first."""
    return [row_data(row) for row in budget.rows]


def line_data(line: CurvatureChange) -> Data:
    """One line: its scans, its difference, its registration."""
    return {
        "azimuth": line.azimuth,
        "pre": None if line.pre is None else fit_data(line.pre.fit),
        "post": fit_data(line.post.fit),
        "fit": fit_data(line.change),
        "registration": registration_data(line.registration),
        "proof": None
        if line.proof is None
        else {
            "copies": line.proof.copies,
            "held": line.proof.held,
            "coverage": line.proof.coverage,
            "widening": number(line.proof.widening),
        },
        "warnings": notices_data(line.warnings),
    }


def scan_data(source: ScanSource, length: float, curvature: ScanCurvature) -> Data:
    """One scan by itself, for ``inspect``."""
    fit = curvature.fit
    return {
        **source_data(source),
        **fit_data(fit),
        "length": length,
        "sampling_interval": number(length / max(fit.points - 1, 1)),
        "warnings": notices_data(curvature.warnings),
    }


def inputs_data(wafer: WaferSpec, files: Sequence[tuple[str, ScanSource]]) -> Data:
    """Everything that was asked, in SI, with the files' hashes."""
    substrate, film = wafer.substrate, wafer.film
    return {
        "settings": dict(wafer.settings),
        "substrate": {
            "material": substrate.material,
            "azimuth_reference": substrate.azimuth_reference,
            **{
                name: measured_data(getattr(substrate, name))
                for name in (
                    "thickness",
                    "diameter",
                    "miscut",
                    "youngs_modulus",
                    "poisson_ratio",
                    "modulus",
                    "density",
                )
            },
        },
        "film": {
            "material": film.material,
            "face": film.face.value,
            "faces": "both" if film.both_faces else "one",
            **{
                name: measured_data(getattr(film, name))
                for name in (
                    "thickness",
                    "modulus",
                    "youngs_modulus",
                    "poisson_ratio",
                    "uncoated_ring",
                    "thickness_profile",
                )
            },
        },
        "lines": [
            {state.name: _conditions_data(state.scan) for state in line.states}
            for line in wafer.lines
        ],
        "bare_bow": measured_data(wafer.bare_bow),
        "reference": wafer.reference,
        "role": wafer.role,
        "files": [{"state": state, **source_data(source)} for state, source in files],
    }


def _conditions_data(scan: ScanSpec) -> Data:
    return {
        "file": scan.path,
        "support": None if scan.support is None else scan.support.value,
        "window": None if scan.window is None else list(scan.window),
        "datum": scan.datum,
        "height_up": scan.height_up,
        **{
            name: measured_data(getattr(scan, name))
            for name in (
                "azimuth",
                "support_radius",
                "support_azimuth",
                "origin",
                "offset",
                "bow_repeatability",
                "offset_repeatability",
                "line_repeatability",
                "position_scale",
                "height_scale",
            )
        },
        **dict(scan.labels),
    }


def result_data(result: StressResult, version: str) -> Data:
    """One wafer's result, whole."""
    # Where several lines were scanned, the one whose scans match least speaks for the wafer.
    line = min(
        result.lines,
        key=lambda line: 1.0 if line.registration is None else line.registration.match,
    )
    return {
        **headed("measure", version),
        "id": result.wafer.id,
        "inputs": inputs_data(result.wafer, result.files),
        "substrate": {
            "label": result.substrate.label,
            "modulus": measured_data(result.substrate.modulus),
            "stiffness": [list(row) for row in result.substrate.stiffness],
            "table_edition": result.substrate.edition or None,
            "sources": list(result.substrate.sources),
        },
        "stress": quantity_data(result.stress),
        "sense": result.sense,
        "stress_by_direction": [
            {"azimuth": entry.azimuth, "stress": quantity_data(entry.stress)}
            for entry in result.stress_by_direction
        ],
        "stress_stoney": quantity_data(result.stress_stoney),
        "stress_mismatch": quantity_data(result.stress_mismatch),
        "force_per_width": quantity_data(result.force_per_width),
        "curvature_change": quantity_data(result.curvature_change),
        "curvature_pre": quantity_data(result.curvature_pre),
        "curvature_post": quantity_data(result.curvature_post),
        "radius": quantity_data(result.radius),
        "bow_change": quantity_data(result.bow_change),
        "registration": registration_data(line.registration),
        "fit": fit_data(line.change),
        "lines": [line_data(line) for line in result.lines],
        "budget": budget_data(result.budget),
        "warnings": notices_data(result.warnings),
        "refusal": None
        if result.refusal is None
        else {"code": result.refusal.code.value, "message": result.refusal.message},
    }
