"""What every JSON object keeps to, checked over the whole object."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

QUANTITY = {
    "value",
    "unit",
    "standard_uncertainty",
    "expanded_uncertainty",
    "coverage_factor",
    "coverage_probability",
    "interval",
    "degrees_of_freedom",
}
# What an input says of itself beyond that.
AS_READ = {"distribution", "uncertainty_source", "read_as"}
BUDGET_ROW = {
    "input",
    "value",
    "unit",
    "standard_uncertainty",
    "sensitivity",
    "contribution",
    "share",
    "evaluation",
    "common_to",
}
# sccm is no SI unit, but a count of molecules that SI has no other word for.
SI_UNITS = {"m", "Pa", "N/m", "1/m", "rad", "kg/m^3", "K", "1/K", "s", "W", "V", "A", "1", "sccm"}


def walk(data: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Every value of an object, with its place."""
    yield path, data
    if isinstance(data, dict):
        for key, value in data.items():
            yield from walk(value, f"{path}.{key}")
    elif isinstance(data, list):
        for index, value in enumerate(data):
            yield from walk(value, f"{path}[{index}]")


def check(data: dict[str, Any]) -> None:
    """Hold a whole object to the contract."""
    assert list(data)[:2] == ["schema", "filmstress"]
    assert data["schema"].startswith("filmstress/")
    for path, value in walk(data):
        if isinstance(value, float):
            assert math.isfinite(value), path
        if not isinstance(value, dict):
            continue
        if "unit" in value and isinstance(value["unit"], str):
            assert value["unit"] in SI_UNITS, (path, value["unit"])
        if "sensitivity" in value:
            check_row(value, path)
        elif "value" in value:
            check_quantity(value, path)
        if "warnings" in value:
            for notice in value["warnings"]:
                assert set(notice) == {"code", "message"}, path
        if value.get("refusal") is not None:
            assert set(value["refusal"]) == {"code", "message"}, path
        if value.get("budget"):
            check_shares(value["budget"])


def check_quantity(quantity: dict[str, Any], path: str = "") -> None:
    """The eight keys, and that they agree with each other."""
    assert set(quantity) >= QUANTITY, (path, QUANTITY - set(quantity))
    u, expanded, k = (
        quantity[name]
        for name in ("standard_uncertainty", "expanded_uncertainty", "coverage_factor")
    )
    low, high = quantity["interval"]
    dof = quantity["degrees_of_freedom"]
    assert 0.0 < quantity["coverage_probability"] < 1.0, path
    assert isinstance(quantity["value"], float | int), path
    if u is None:
        assert expanded is None, path
        assert k is None, path
    else:
        assert u >= 0.0, path
        assert math.isclose(k * u, expanded, rel_tol=1e-12), path
        # By Monte Carlo, limits that dominate need less than a normal distribution does, and a long
        # tail, that of 1/x^2, draws u itself beyond the interval.
        assert k > 0.0, path
    if low is not None and high is not None:
        assert low <= high, path
        assert low <= quantity["value"] <= high, path
    assert dof is None or (dof >= 1 and math.isfinite(dof)), path


def check_row(row: dict[str, Any], path: str = "") -> None:
    """One row of a budget."""
    assert set(row) >= BUDGET_ROW, (path, BUDGET_ROW - set(row))
    assert row["evaluation"] in {"A", "B"}, path
    assert isinstance(row["common_to"], str), path
    assert math.isclose(
        row["contribution"], abs(row["sensitivity"]) * row["standard_uncertainty"], rel_tol=1e-12
    ), path


def check_shares(budget: list[dict[str, Any]]) -> None:
    """Shares add to 1."""
    assert math.isclose(sum(row["share"] for row in budget), 1.0, abs_tol=1e-9)
