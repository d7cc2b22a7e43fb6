"""Sizes: whether a value is one that its input can have, and which unit may have been meant."""

from __future__ import annotations

import math
from fractions import Fraction

from filmstress.errors import QuantityError
from filmstress.units.conversion import rounded, to_si
from filmstress.units.dimensions import DIMENSIONS
from filmstress.units.kinds import Kind
from filmstress.units.say import readable


def fitting_words(number: Fraction, kind: Kind) -> list[str]:
    """List the unit words in which ``number`` would be plausible, small to large."""
    row = DIMENSIONS[kind.dimension]
    words = row.words if row.is_pure else row.ladder
    return [word for word in words if kind.low <= rounded(to_si(number, word)) <= kind.high]


def check_size(
    value_si: float,
    u_si: float | None,
    kind: Kind,
    *,
    where: str,
    shown: str = "",
    number: Fraction | None = None,
    number_text: str = "",
) -> None:
    """Refuse a value outside the plausible range, or an uncertainty that cannot be meant.

    Parameters
    ----------
    value_si, u_si : float
        Value and standard uncertainty [SI]; None where none is stated.
    kind : Kind
        What the input is.
    where, shown : str
        Place and text for messages.
    number, number_text : Fraction, str
        The number as written, to try other units on.

    Raises
    ------
    QuantityError
        If the value lies outside the range; if the uncertainty exceeds the value of an input that
        is always positive, or the width of the whole range of any other.
    """
    shown = shown or readable(value_si, kind.dimension)
    if not (kind.low <= value_si <= kind.high and math.isfinite(value_si)):
        better = [] if number is None else fitting_words(number, kind)
        options = " or ".join(f"'{f'{number_text} {word}'.strip()}'" for word in better[:3])
        raise QuantityError(
            f"'{shown}' is outside the plausible range of {kind.name}: {_range(kind)}.",
            where=where,
            hint=f"was another unit meant? {options} would be plausible"
            if better
            else f"was another unit meant? write it like '{kind.example}'",
        )
    most, what = (
        (value_si, "the value itself")
        if kind.low > 0.0
        else (kind.high - kind.low, f"the whole plausible range, {_range(kind)}")
    )
    if u_si is not None and (u_si > most or not math.isfinite(u_si)):
        raise QuantityError(
            f"the uncertainty in '{shown}' is larger than {what}.",
            where=where,
            hint="was another unit meant after the ±?",
        )


def _range(kind: Kind) -> str:
    low, high = (readable(end, kind.dimension) for end in (kind.low, kind.high))
    if math.isinf(kind.high):
        return "any" if math.isinf(kind.low) else f"at least {low}"
    return f"at most {high}" if math.isinf(kind.low) else f"{low} to {high}"
