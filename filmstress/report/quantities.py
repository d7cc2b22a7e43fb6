"""Quantities and notices as plain data: SI units only, and never a number that JSON does not know.

Everything with a unit is one of three: a quantity (the eight keys of :func:`quantity_data`), a list
of numbers of one unit (:func:`values_data`), or a row of a budget, which names its own keys.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from filmstress.records.notice import Notice
from filmstress.records.quantity import Estimate, Measured
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


def bare_data(value: float | None, unit: str) -> Data | None:
    """A quantity whose uncertainty is not known; None, or infinite, is no quantity."""
    if value is None or not math.isfinite(value):
        return None
    return quantity_data(estimate(float(value), unit, u=None))


def values_data(values: ArrayLike, unit: str) -> Data:
    """Numbers of one unit, in the shape they have."""
    return {"unit": unit, "values": _numbers(np.asarray(values, np.float64).tolist())}


def _numbers(values: Any) -> Any:
    return [_numbers(value) for value in values] if isinstance(values, list) else number(values)


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


def refusal_data(refusal: Notice | None) -> Data | None:
    """Why no stress is stated, as code and message."""
    return None if refusal is None else notices_data([refusal])[0]
