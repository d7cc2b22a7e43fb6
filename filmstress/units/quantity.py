"""Text with a unit -> :class:`Measured` in SI.  The one door through which inputs come."""

from __future__ import annotations

import math
from numbers import Real

from filmstress.errors import QuantityError
from filmstress.records.quantity import Measured
from filmstress.units.dimensions import DIMENSIONS
from filmstress.units.grammar import parse
from filmstress.units.kinds import Kind
from filmstress.units.plausible import check_size
from filmstress.units.reading import to_measured
from filmstress.units.spelling import tidy


def read_quantity(text: str | float | int | Measured, kind: Kind, *, where: str = "") -> Measured:
    """Read an input.

    Parameters
    ----------
    text : str, float, int or Measured
        Text in one of the forms that ``filmstress.units.grammar`` lists.  A bare number is good
        for a pure number only.  A Measured is checked and given back.
    kind : Kind
        What the input is.
    where : str
        Option, key or cell, for messages; the kind's name where not given.

    Returns
    -------
    Measured
        Value and standard uncertainty in SI units.  ``u`` is None where none is stated; half-width
        over sqrt(3) for limits; the ± over k where k is stated (JCGM 100:2008, 4.3.7 and 4.3.3).

    Raises
    ------
    QuantityError
        If the text cannot be read without guessing, is of another dimension, or is of a size
        that this input does not have.

    Notes
    -----
    A ± in % or ppm is a share of the value: ``525 um ± 0.4 %``.  On a value that is itself in % or
    ppm it is absolute: ``2 % ± 1 %`` is 0.02 ± 0.01.  On a bare number of dimension "number" it is
    a share (``0.28 ± 5 %``); on one of dimension "relative" it could be either and is refused.
    On degC a ± is a difference, in K or degC alike.
    """
    place = where or kind.name
    if isinstance(text, Measured):
        return _checked(text, kind, place)
    if isinstance(text, Real) and not isinstance(text, bool):
        text = _number_text(text)
    if not isinstance(text, str):
        raise QuantityError(
            f"{type(text).__name__} is no quantity; want {DIMENSIONS[kind.dimension].phrase}.",
            where=place,
            hint=f"write a text like '{kind.example}'",
        )
    written = parse(text, where=place, example=kind.example)
    return to_measured(written, kind, where=place, shown=tidy(text))


def read_range(text: str, kind: Kind, *, where: str = "") -> tuple[Measured, Measured]:
    """Read ``low..high``: "-30 mm..30 mm", or "-30..30 mm" with one unit for both ends.

    Raises
    ------
    QuantityError
        If an end cannot be read or carries a ±, or the ends do not rise.
    """
    place = where or kind.name
    hint = f"write it like '{kind.example}'"
    plain_text = tidy(text) if isinstance(text, str) else ""
    start, dots, end = plain_text.partition("..")
    if not dots or not start or not end or end.startswith("."):
        raise QuantityError(
            f"'{text}' is not a range; want two ends with two dots between them.",
            where=place,
            hint=hint,
        )
    low_written = parse(start, where=place, example=kind.example)
    high_written = parse(end, where=place, example=kind.example)
    for written in (low_written, high_written):
        if written.spread or written.exact:
            raise QuantityError(
                f"'{plain_text}': the ends of a range carry no uncertainty.", where=place, hint=hint
            )
    if not low_written.unit:
        start = f"{start.strip()} {high_written.unit}".strip()
    low = read_quantity(start, kind, where=where)
    high = read_quantity(end, kind, where=where)
    if not low.value < high.value:
        raise QuantityError(
            f"'{plain_text}' does not run from low to high.",
            where=place,
            hint=f"write '{tidy(end)}..{tidy(start)}'" if high.value < low.value else hint,
        )
    return low, high


def _number_text(number: Real) -> str:
    try:
        return repr(float(number))
    except OverflowError:
        return "inf"


def _checked(given: Measured, kind: Kind, place: str) -> Measured:
    if given.unit != kind.si:
        raise QuantityError(
            f"a quantity in '{given.unit}' was given; want {DIMENSIONS[kind.dimension].phrase} "
            f"in '{kind.si}'.",
            where=place,
            hint=f"give it as a text like '{kind.example}'",
        )
    u_is_good = given.u is None or (math.isfinite(given.u) and given.u >= 0.0)
    if not (math.isfinite(given.value) and u_is_good and given.dof > 0.0):
        raise QuantityError(
            f"a quantity with value {given.value}, uncertainty {given.u} and {given.dof} degrees "
            "of freedom was given.",
            where=place,
            hint="the value is finite, the uncertainty finite and not negative, the degrees of "
            "freedom above zero",
        )
    check_size(given.value, given.u, kind, where=place)
    return given
