"""Text with a unit -> :class:`Measured` in SI.  The one door through which inputs come."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache
from numbers import Integral, Real

from filmstress.errors import QuantityError
from filmstress.records.quantity import Measured
from filmstress.units.dimensions import DIMENSIONS
from filmstress.units.grammar import Written, parse
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
    try:
        return _read(text, kind)
    except QuantityError as error:
        error.where = place
        raise


@lru_cache(maxsize=1024)
def _read(text: str, kind: Kind) -> Measured:
    """A quantity as it stands; kept, for what is stated of a lot is read for each of its scans."""
    return to_measured(parse(text, example=kind.example), kind, where="", shown=tidy(text))


def read_range(text: str, kind: Kind, *, where: str = "") -> tuple[Measured, Measured]:
    """Read ``low..high``: "-30 mm..30 mm", or "-30..30 mm" with one unit for both ends.

    Raises
    ------
    QuantityError
        If an end cannot be read or carries a ±, or the ends do not rise.
    """
    place = where or kind.name
    hint = f"write it like '{kind.example}'"
    whole = tidy(text) if isinstance(text, str) else type(text).__name__
    ends = whole.split("..")
    if len(ends) != 2 or not all(ends) or ends[1].startswith("."):
        raise QuantityError(
            f"'{whole[:60]}' is not a range; want two ends with two dots between them.",
            where=place,
            hint=hint,
        )
    first, last = (parse(end, where=place, example=kind.example) for end in ends)
    if first.spread or first.exact or last.spread or last.exact:
        raise QuantityError(
            f"'{whole}': the ends of a range carry no uncertainty.", where=place, hint=hint
        )
    if not first.unit:
        first = replace(first, unit=last.unit)
    low, high = (to_measured(end, kind, where=place, shown=_as_typed(end)) for end in (first, last))
    if not low.value < high.value:
        turned = f"write '{_as_typed(last)}..{_as_typed(first)}'"
        raise QuantityError(
            f"'{whole}' does not run from low to high.",
            where=place,
            hint=turned if high.value < low.value else hint,
        )
    return low, high


def _as_typed(end: Written) -> str:
    return f"{end.value.text} {end.unit}".strip()


def _number_text(number: Real) -> str:
    try:
        value = float(number)
    except OverflowError:
        return "inf"
    return str(int(value)) if isinstance(number, Integral) and abs(value) < 2**53 else repr(value)


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
