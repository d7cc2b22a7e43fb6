"""How quantities are said: display units and signs, one rule for screen, figure and page."""

from __future__ import annotations

import math

from filmstress.records.quantity import Estimate, Measured
from filmstress.stats.rounding import round_pair, significant

# Display unit and its size in SI, by SI unit and by the size of the number where that matters.
_LENGTHS = (("nm", 1e-9), ("um", 1e-6), ("mm", 1e-3), ("m", 1.0))
_FIXED = {
    "N/m": ("N/m", 1.0),
    "1/m": ("1/m", 1.0),
    "1": ("", 1.0),
    "rad": ("deg", math.pi / 180.0),
    "kg/m^3": ("kg/m^3", 1.0),
}


def display_unit(value: float, unit: str) -> tuple[str, float]:
    """The unit to show a number in, and that unit in SI.

    Lengths and pressures get the unit that leaves the number between 1 and 1000 or so.
    """
    if unit == "Pa":
        return ("GPa", 1e9) if abs(value) >= 20e9 else ("MPa", 1e6)
    if unit == "m":
        for word, size in _LENGTHS:
            if abs(value) < 999.5 * size:
                return word, size
        return "m", 1.0
    return _FIXED.get(unit, (unit, 1.0))


def signed(text: str) -> str:
    """A number's text with its sign always shown, and a true minus sign."""
    if text.startswith("-"):
        return "−" + text[1:]
    return text if text.strip("0.") == "" else "+" + text


def say_estimate(estimate: Estimate | None, *, sign: bool = False) -> str:
    """``+199.1 ± 9.8 MPa``: value and expanded uncertainty, rounded by the one rule."""
    if estimate is None:
        return "not stated"
    size = max(abs(estimate.value), estimate.expanded or 0.0)
    word, scale = display_unit(size, estimate.unit)
    if estimate.expanded is None:
        value = significant(estimate.value, 4, scale=scale)
        return f"{signed(value) if sign else value} {word}, uncertainty not known"
    value, u = round_pair(estimate.value, estimate.expanded, scale=scale)
    return f"{signed(value) if sign else value.replace('-', '−')} ± {u} {word}".rstrip()


def say_value(value: float, unit: str, digits: int = 4) -> str:
    """One number in its display unit, to a few significant digits."""
    word, scale = display_unit(value, unit)
    if value == 0.0:
        return f"0 {unit}" if unit != "1" else "0"
    return f"{significant(value, digits, scale=scale).replace('-', '−')} {word}".rstrip()


def say_pair(value: float, u: float, unit: str) -> tuple[str, str]:
    """An input's value and standard uncertainty, rounded alike and in one unit."""
    word, scale = display_unit(max(abs(value), u), unit)
    if u == 0.0:
        return f"{significant(value, 4, scale=scale)} {word}".rstrip(), "0"
    told, spread = round_pair(value, u, scale=scale)
    return f"{told.replace('-', '−')} {word}".rstrip(), f"{spread} {word}".rstrip()


def say_input(measured: Measured) -> str:
    """An input as read: value and how its uncertainty was read."""
    words = say_value(measured.value, measured.unit)
    return f"{words}  ({measured.read_as})" if measured.read_as else words


def say_coverage(estimate: Estimate) -> str:
    """``95 %, k = 2.04, 33 degrees of freedom``."""
    if estimate.k is None:
        return "uncertainty not known"
    # From some hundreds on, more degrees of freedom do not change k in the digits shown.
    dof = (
        "many degrees of freedom"
        if estimate.dof > 500
        else f"{estimate.dof:.0f} degree{'s' if estimate.dof != 1 else ''} of freedom"
    )
    return f"{estimate.p:.0%}, k = {estimate.k:.2f}, {dof}".replace("%", " %")
