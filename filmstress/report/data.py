"""One wafer's result as plain data for JSON."""

from __future__ import annotations

import math

from filmstress.records.notice import Notice
from filmstress.records.result import StressResult, SubstrateUsed
from filmstress.records.wafer import WaferSpec
from filmstress.report.budget_data import budget_data
from filmstress.report.fit_data import fit_data, line_data, registration_data
from filmstress.report.inputs_data import inputs_data
from filmstress.report.propagation import monte_carlo_data
from filmstress.report.quantities import (
    Data,
    bare_data,
    headed,
    measured_data,
    notices_data,
    quantity_data,
    refusal_data,
    values_data,
)
from filmstress.report.uneven_data import profile_data, uneven_data
from filmstress.report.weighing import weighing_data

# What a measurement finds; each is null where it could not be found.
_FOUND = (
    "substrate",
    "stress",
    "principal_stresses",
    "stress_profile",
    "uneven_stress",
    "stress_stoney",
    "stress_mismatch",
    "force_per_width",
    "curvature_change",
    "curvature_pre",
    "curvature_post",
    "radius",
    "bow_change",
    "weight_calibrated",
    "registration",
    "fit",
    "budget_of",
    "monte_carlo",
)
_LISTS = ("stress_by_direction", "lines", "budget", "warnings")


def result_data(result: StressResult, version: str) -> Data:
    """One wafer's result, whole."""
    # Where several lines were scanned, the one whose scans match least speaks for the wafer.
    line = min(
        result.lines,
        key=lambda line: 1.0 if line.registration is None else line.registration.match,
    )
    uneven = uneven_data(result.uneven)
    if uneven is not None and result.uneven is not None:
        uneven["budget"] = budget_data(result.uneven.budget)
    return {
        **headed("measure", version),
        "id": result.wafer.id,
        "inputs": inputs_data(result.wafer, result.files),
        "substrate": _substrate_data(result.substrate),
        "stress": quantity_data(result.stress),
        "sense": result.sense,
        "stress_by_direction": [
            {
                "azimuth": _azimuth_data(entry.azimuth, result.wafer),
                "stress": quantity_data(entry.stress),
            }
            for entry in result.stress_by_direction
        ],
        "principal_stresses": None
        if result.principal is None
        else {
            "high": quantity_data(result.principal.high),
            "low": quantity_data(result.principal.low),
            "axis": quantity_data(result.principal.axis),
        },
        "stress_profile": profile_data(result),
        "uneven_stress": uneven,
        "stress_stoney": quantity_data(result.stress_stoney),
        "stress_mismatch": quantity_data(result.stress_mismatch),
        "force_per_width": quantity_data(result.force_per_width),
        "curvature_change": quantity_data(result.curvature_change),
        "curvature_pre": quantity_data(result.curvature_pre),
        "curvature_post": quantity_data(result.curvature_post),
        "radius": quantity_data(result.radius),
        "bow_change": quantity_data(result.bow_change),
        "weight_calibrated": weighing_data(result.weight),
        "registration": registration_data(line.registration),
        "fit": fit_data(line.change),
        "lines": [line_data(line) for line in result.lines],
        "budget_of": _budget_of(result),
        "budget": budget_data(result.budget),
        "monte_carlo": None if result.refusal else monte_carlo_data(result.monte_carlo),
        "warnings": notices_data(result.warnings),
        "refusal": refusal_data(result.refusal),
    }


def nothing_found(wafer: WaferSpec, refusal: Notice | None, version: str) -> Data:
    """The same object where the scans could not be compared: what was asked, and why not."""
    return {
        **headed("measure", version),
        "id": wafer.id,
        "inputs": inputs_data(wafer, ()),
        **dict.fromkeys(_FOUND),
        "sense": "not stated",
        **{name: [] for name in _LISTS},
        "refusal": refusal_data(refusal),
    }


def _substrate_data(used: SubstrateUsed) -> Data:
    return {
        "label": used.label,
        "modulus": measured_data(used.modulus),
        "stiffness": values_data(used.stiffness, "Pa"),
        "table_edition": used.edition or None,
        "sources": list(used.sources),
    }


def _azimuth_data(azimuth: float, wafer: WaferSpec) -> Data | None:
    """An azimuth, with its uncertainty where it is the one that was stated."""
    for line in wafer.lines:
        if math.isclose(line.azimuth.value, azimuth, abs_tol=1e-12):
            return measured_data(line.azimuth)
    return bare_data(azimuth, "rad")


def _budget_of(result: StressResult) -> str | None:
    if result.refusal is not None:
        return None
    return "stress" if result.stress is not None else "force_per_width"
