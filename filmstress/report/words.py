"""How quantities are said: display units and signs, one rule for screen, figure and page."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from filmstress.records.quantity import Estimate, Measured
from filmstress.stats.rounding import round_pair, significant

# Display unit and its size in SI, by SI unit and by the size of the number where that matters.
_LENGTHS = (("pm", 1e-12), ("nm", 1e-9), ("um", 1e-6), ("mm", 1e-3), ("m", 1.0))
_FIXED = {
    "N/m": ("N/m", 1.0),
    # The curvature of a coated wafer lies between 0.01 and 100 of these.
    "1/m": ("1/km", 1e-3),
    "1": ("", 1.0),
    "rad": ("deg", math.pi / 180.0),
    "kg/m^3": ("kg/m^3", 1.0),
}
# Numbers beyond these, in their display unit, would be rows of zeros: they get a power of ten.
_SMALLEST, _LARGEST = 1e-5, 1e7
# An uncertainty below this share of its value is not shown through the value's digits.
_HARDLY_UNCERTAIN = 1e-9


def display_unit(value: float, unit: str) -> tuple[str, float]:
    """The unit to show a number in, and that unit in SI.

    Lengths and pressures get the unit that leaves the number between 1 and 1000 or so.
    """
    if unit == "Pa":
        return ("GPa", 1e9) if abs(value) >= 20e9 else ("MPa", 1e6)
    if unit == "m":
        if value == 0.0:
            return "mm", 1e-3
        for word, size in _LENGTHS:
            if abs(value) < 999.5 * size:
                return word, size
        return "m", 1.0
    return _FIXED.get(unit, (unit, 1.0))


def signed(text: str) -> str:
    """A number's text with its sign always shown, and a true minus sign."""
    if text.startswith("-"):
        return minus(text)
    return text if text.strip("0.") == "" else "+" + text


def minus(text: str) -> str:
    """A number's text with a true minus sign."""
    return "−" + text[1:] if text.startswith("-") else text


def say_estimate(estimate: Estimate | None, *, sign: bool = False) -> str:
    """``+199.1 ± 9.8 MPa``: value and expanded uncertainty, rounded by the one rule."""
    if estimate is None:
        return "not stated"
    size = max(abs(estimate.value), estimate.expanded or 0.0)
    word, scale = display_unit(size, estimate.unit)
    written = signed if sign else minus
    if estimate.expanded is None:
        told = f"{written(_digits(estimate.value, 4, scale))} {word}".rstrip()
        return f"{told}, uncertainty not known"
    value, u = _pair(estimate.value, estimate.expanded, scale)
    return f"{written(value)} ± {u} {word}".rstrip()


def say_rounded(estimate: Estimate) -> str:
    """The value alone, to the digits that its uncertainty leaves it."""
    text = say_estimate(estimate)
    value, _, rest = text.partition(" ± ")
    return f"{value} {rest.partition(' ')[2]}".rstrip() if rest else text


def say_value(value: float, unit: str, digits: int = 4) -> str:
    """One number in its display unit, to a few significant digits."""
    return say_values([value], unit, digits)[0]


def say_values(values: Sequence[float], unit: str, digits: int = 4) -> list[str]:
    """Several numbers in the one display unit that suits the largest."""
    word, scale = display_unit(max(map(abs, values)), unit)
    return [f"{minus(say_number(value, digits, scale))} {word}".rstrip() for value in values]


def say_column(
    values: Iterable[float], unit: str, digits: int = 4, *, sign: bool = False
) -> list[str]:
    """Numbers that stand below one another: one unit, and as many decimals as the largest has."""
    values = [float(value) for value in values]
    largest = max(map(abs, values))
    word, scale = display_unit(largest, unit)
    left = math.floor(math.log10(largest / scale)) if largest else 0
    places = max(0, digits - 1 - left)
    # Adding zero takes the sign off a zero.
    told = [f"{round(value / scale, places) + 0.0:.{places}f}" for value in values]
    return [f"{signed(text) if sign else minus(text)} {word}" for text in told]


def say_number(value: float, digits: int, scale: float = 1.0) -> str:
    """A number that has no uncertainty to round it by: a few digits, no zeros behind."""
    text = _digits(value, digits, scale)
    return text.rstrip("0").rstrip(".") if "." in text and "e" not in text else text


def _digits(value: float, digits: int, scale: float) -> str:
    if value != 0.0 and not _SMALLEST <= abs(value) / scale < _LARGEST:
        return f"{value / scale:.{digits - 1}e}"
    return significant(value, digits, scale=scale)


def say_pair(value: float, u: float, unit: str) -> tuple[str, str]:
    """An input's value and standard uncertainty, rounded alike and in one unit."""
    word, scale = display_unit(max(abs(value), u), unit)
    told, spread = _pair(value, u, scale)
    return f"{minus(told)} {word}".rstrip(), f"{spread} {word}".rstrip() if u else spread


def say_plus_minus(value: float, u: float, unit: str) -> str:
    """``339 ± 27 um``: an input with its standard uncertainty."""
    word, scale = display_unit(max(abs(value), u), unit)
    told, spread = _pair(value, u, scale)
    return f"{minus(told)} ± {spread} {word}".rstrip()


def _pair(value: float, u: float, scale: float) -> tuple[str, str]:
    size = max(abs(value), u)
    if u < _HARDLY_UNCERTAIN * size:
        return say_number(value, 7, scale), f"{u / scale:.1e}" if u else "0"
    if u == 0.0 or _SMALLEST <= size / scale < _LARGEST:
        return round_pair(value, u, scale=scale)
    if abs(value) < 0.005 * u:
        return "0", f"{u / scale:.1e}"
    # As many digits as reach the second one of the uncertainty.
    digits = max(1, 1 + math.floor(math.log10(abs(value))) - math.floor(math.log10(u)))
    return f"{value / scale:.{digits}e}", f"{u / scale:.1e}"


def say_ends(low: float, high: float, tolerance: float, unit: str) -> tuple[str, str]:
    """Both ends of an interval, to the decimal place of a tolerance, signed, in one unit."""
    word, scale = display_unit(max(abs(low), abs(high)), unit)
    told = [signed(round_pair(end, tolerance, scale=scale)[0]) for end in (low, high)]
    return f"{told[0]}", f"{told[1]} {word}".rstrip()


def say_input(measured: Measured) -> str:
    """An input as read: value and how its uncertainty was read."""
    words = say_value(measured.value, measured.unit)
    return f"{words}  ({measured.read_as})" if measured.read_as else words


def printable(text: str, most: int) -> str:
    """A user's words on one line: without control characters, cut where they are too long."""
    shown = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return shown if len(shown) <= most else shown[: most - 1] + "…"


def again_words(entries: Sequence[int]) -> str:
    """Entries of the history that a later one computed again, as the subject of a sentence."""
    shown = ", ".join(str(entry) for entry in entries[:8]) + (", ..." if len(entries) > 8 else "")
    many = len(entries) > 1
    return f"entr{'ies' if many else 'y'} {shown}, whose scans a later entry of the same lot holds,"


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
