"""[deposition] and [specification]: what is kept, what is read, what is refused."""

from __future__ import annotations

import datetime
import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.errors import FilmstressError
from filmstress.inputs.faults import FaultList
from filmstress.lots.deposition import read_deposition
from filmstress.lots.specification import read_specification
from filmstress.records.lot import Parameter, Sampling, Specification


def parameters(**values: Any) -> dict[str, Parameter]:
    faults = FaultList()
    found = read_deposition(values, "lot.toml", faults)
    assert not faults
    return {one.name: one for one in found}


@pytest.mark.parametrize(
    ("value", "text", "si", "unit", "u"),
    [
        # One torr is 101325/760 Pa by definition; the others are multiples of ten.
        ("0.6 Pa", "0.6 Pa", 0.6, "Pa", None),
        ("4.5 mTorr", "4.5 mTorr", 4.5e-3 * 101325 / 760, "Pa", None),
        ("6e-3 mbar", "6e-3 mbar", 0.6, "Pa", None),
        ("1.5 kW ± 20 W", "1.5 kW ± 20 W", 1500.0, "W", 20.0),
        ("350 degC", "350 degC", 623.15, "K", None),
        ("-120 V", "-120 V", -120.0, "V", None),
        ("25 sccm", "25 sccm", 25.0, "sccm", None),
        ("12 min", "12 min", 720.0, "s", None),
        ("30 %", "30 %", 0.3, "1", None),
        ("55 ± 2 mm", "55 ± 2 mm", 0.055, "m", 0.002),
        (25, "25", 25.0, "1", None),
        (0.5, "0.5", 0.5, "1", None),
    ],
)
def test_parameters_with_units_are_quantities_too(
    value: object, text: str, si: float, unit: str, u: float | None
) -> None:
    one = parameters(pressure=value)["pressure"]
    assert one.text == text
    assert one.quantity is not None
    assert one.quantity.value == pytest.approx(si, rel=1e-12)
    assert one.quantity.unit == unit
    assert one.quantity.u == (None if u is None else pytest.approx(u))


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("PX-2", "PX-2"),
        ("0412", "0412"),
        ("12", "12"),
        ("3 mtorr", "3 mtorr"),
        ("0,6 Pa", "0,6 Pa"),
        ("5 wafers", "5 wafers"),
        ("", ""),
        (True, "true"),
        (False, "false"),
        (datetime.date(2026, 3, 14), "2026-03-14"),
        (["SiH4", "NH3", 3], "[SiH4, NH3, 3]"),
        (math.nan, "nan"),
        (10**400, "a huge number"),
    ],
)
def test_whatever_else_is_kept_as_text(value: object, text: str) -> None:
    assert parameters(x=value)["x"] == Parameter("x", text)


def test_tables_become_dotted_names_in_their_order() -> None:
    found = parameters(tool="PX-2", gas={"SiH4": "40 sccm", "NH3": "20 sccm"}, power="100 W")
    assert list(found) == ["tool", "gas.SiH4", "gas.NH3", "power"]
    assert found["gas.NH3"].quantity is not None


@given(value=st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text() | st.datetimes(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner), max_leaves=6,
))  # fmt: skip
def test_nothing_in_a_deposition_is_a_fault(value: Any) -> None:
    found = parameters(x=value)
    for one in found.values():
        assert one.quantity is None or math.isfinite(one.quantity.value)


def sampled(keys: dict[str, Any]) -> dict[str, Any]:
    return {"upper": "1 MPa", "sampling": {"content": "95 %", **keys}}


def specification(**values: Any) -> tuple[Specification | None, list[FilmstressError]]:
    faults = FaultList()
    found = read_specification(values, "lot.toml", faults)
    return found, list(faults.listed())


def test_limits_are_read_in_si() -> None:
    found, faults = specification(
        lower="-250 MPa", upper="-0.15 GPa", spread_max="20 MPa", within_max="5e6 Pa",
        confidence="90 %",
    )  # fmt: skip
    assert not faults
    assert found == Specification(-250e6, -150e6, 20e6, 5e6, 0.9)
    found, faults = specification(
        **sampled({"lot_size": 25, "confidence": 0.9, "aql": "1 %", "producer_risk": 0.1})
    )
    assert not faults
    assert found == Specification(upper=1e6, sampling=Sampling(0.95, 0.9, 25, 0.01, 0.1))
    assert specification(upper="1 GPa (exact)")[0] == Specification(upper=1e9)
    assert specification(upper="1 GPa")[0] == Specification(upper=1e9, confidence=0.95)


@pytest.mark.parametrize(
    ("values", "where", "words", "hint"),
    [
        ({}, "", "no limit is stated", "upper"),
        ({"confidence": 0.9}, "", "no limit is stated", "upper"),
        ({"upper": -150}, ".upper", "has no unit", "-150 MPa"),
        ({"upper": "-150"}, ".upper", "has no unit", "MPa"),
        ({"upper": "150 mPa"}, ".upper", "mPa", "MPa"),
        ({"upper": "150 nm"}, ".upper", "a length", "MPa"),
        ({"upper": "150 GPa"}, ".upper", "outside the plausible range", ""),
        ({"upper": True}, ".upper", "true came", "-150 MPa"),
        ({"upper": "-150 MPa ± 5 MPa"}, ".upper", "has an uncertainty", "the limit alone"),
        ({"spread_max": "-5 MPa"}, ".spread_max", "outside the plausible range", ""),
        ({"within_max": "0 MPa"}, ".within_max", "outside the plausible range", ""),
        ({"upper": "1 MPa", "confidence": 95}, ".confidence", "outside the plausible", "95 %"),
        ({"upper": "1 MPa", "confidence": 0.5}, ".confidence", "outside the plausible", ""),
        ({"upper": "1 MPa", "confidence": 1.0}, ".confidence", "outside the plausible", ""),
        ({"lower": "1 MPa", "upper": "1 MPa"}, "", "not below", "-250 MPa"),
        ({"lower": "-150 MPa", "upper": "-250 MPa"}, "", "not below", "-250 MPa is the lower"),
        ({"uper": "1 MPa", "lower": "1 MPa"}, "", "unknown key 'uper'", "'upper'"),
        ({"upper": "1 MPa", "sampling": "x"}, ".sampling", "a table is wanted", "content ="),
        ({"upper": "1 MPa", "sampling": {}}, ".sampling", "content is not stated", "lot_size ="),
        (sampled({"size": 1}), ".sampling", "unknown key 'size' in [spec", "'lot_size'"),
        ({"spread_max": "1 MPa", "sampling": {"content": 0.9}}, ".sampling", "none is stated", ""),
        (sampled({"lot_size": 2.5}), ".sampling.lot_size", "whole number", "lot_size = 25"),
        (sampled({"lot_size": 1}), ".sampling.lot_size", "outside the plausible", ""),
        (sampled({"content": 95}), ".sampling.content", "outside the plausible", ""),
        (sampled({"aql": "5 %"}), ".sampling", "aql: 5 %", "smaller"),
        (sampled({"aql": "1 % ± 1 %"}), ".sampling.aql", "has an uncertainty", "the limit alone"),
    ],
)  # fmt: skip
def test_faults_of_a_specification(
    values: dict[str, Any], where: str, words: str, hint: str
) -> None:
    _, (fault,) = specification(**values)
    assert fault.where == f"lot.toml, specification{where}"
    assert words in fault.message
    assert hint in fault.hint
