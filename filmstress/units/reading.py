"""A quantity as written -> SI: which unit each number is in, and how the ± is meant."""

from __future__ import annotations

import math
import re
from fractions import Fraction

from filmstress.errors import QuantityError
from filmstress.records.quantity import Measured, Shape
from filmstress.units.conversion import rounded, to_si
from filmstress.units.dimensions import DIMENSIONS
from filmstress.units.grammar import Number, Written
from filmstress.units.kinds import Kind
from filmstress.units.plausible import check_size, fitting_words
from filmstress.units.registry import scale
from filmstress.units.say import plain, say
from filmstress.units.spelling import canonical
from filmstress.units.words import resolve

_SHARES = ("%", "ppm")


def to_measured(written: Written, kind: Kind, *, where: str, shown: str) -> Measured:
    """Convert to SI and check the size.

    Raises
    ------
    QuantityError
        If a unit is missing, unknown or of another dimension, or the size is not plausible.
    """
    unit = _unit_of_value(written, kind, where)
    value = rounded(to_si(written.value.exact, unit))
    u: float | None = None
    dof, shape, read_as = math.inf, Shape.NORMAL, "uncertainty not stated"
    if written.exact:
        u, shape, read_as = 0.0, Shape.EXACT, "exact"
    elif written.spread is not None:
        spread, is_derived = _spread_si(written, written.spread, unit, kind, where)
        u = rounded(spread / (written.k.exact if written.k else 1))
        if written.limits:
            u, shape = u / math.sqrt(3.0), Shape.RECTANGULAR
        if written.dof:
            dof = rounded(written.dof.exact)
        if u == 0.0:
            shape = Shape.EXACT
        read_as = _echo(written, written.spread, unit, u, is_derived)
    check_size(
        value, u, kind, where=where, shown=shown,
        number=written.value.exact, number_text=written.value.text,
    )  # fmt: skip
    return Measured(value, kind.si, u, dof, shape, read_as)


def _unit_of_value(written: Written, kind: Kind, where: str) -> str:
    typed, example = written.unit, kind.example
    if not typed and not DIMENSIONS[kind.dimension].is_pure:
        # In "525 ± 2 um" the unit stands for both numbers; in "525 ± 2 %" it cannot.
        if canonical(written.spread_unit) not in _SHARES:
            typed = written.spread_unit
        fitting = fitting_words(written.value.exact, kind)
        number = re.sub(r"^([+-]?)0+(?=[0-9])", r"\1", written.value.text)
        example = f"{number} {fitting[0]}" if len(fitting) == 1 else example
    return resolve(typed, kind.dimension, number=written.value.text, where=where, example=example)


def _spread_si(
    written: Written, spread: Number, unit: str, kind: Kind, where: str
) -> tuple[Fraction, bool]:
    """Convert the ±; say whether it had to be worked out from the digits or a share."""
    factor = scale(unit).factor
    if written.concise:
        return spread.exact * factor, True
    word = canonical(written.spread_unit)
    if word in _SHARES and unit not in _SHARES:
        share = spread.exact * scale(word).factor
        _check_share(written, spread, unit, kind, where)
        return abs(written.value.exact) * factor * share, True
    typed = f"± {spread.text}"
    if unit and not word:
        also = "" if unit in _SHARES else f", or '{typed} %' for a share of the value"
        raise QuantityError(
            f"'{typed}' has no unit, but the value has.",
            where=where,
            hint=f"write '{typed} {unit}'{also}",
        )
    word = resolve(
        written.spread_unit, kind.dimension, number=typed, where=where, example=kind.example
    )
    return spread.exact * scale(word).factor, False


def _check_share(written: Written, spread: Number, unit: str, kind: Kind, where: str) -> None:
    """Refuse a share of a value that has none, or that may not be meant as one."""
    number, share = written.value.text, f"± {spread.text} {canonical(written.spread_unit)}"
    if kind.dimension == "relative":
        word = canonical(written.spread_unit)
        raise QuantityError(
            f"'{number} {share}' may mean ({number} ± {spread.text}) {word} or {number} with "
            f"{spread.text} {word} of it.",
            where=where,
            hint=f"write '{number} {word} {share}', or the ± as a bare number",
        )
    if scale(unit).offset:
        raise QuantityError(
            f"'{share}' of a temperature in {unit} depends on where the scale begins.",
            where=where,
            hint="write the ± as a difference, such as '± 1 K'",
        )
    if not written.value.exact and spread.exact:
        raise QuantityError(
            f"'{share}' of zero is zero.",
            where=where,
            hint=f"write the ± in a unit, as in '{kind.example}'",
        )


def _echo(written: Written, spread: Number, unit: str, u: float, is_derived: bool) -> str:
    """Say in words how the ± was read."""
    # An uncertainty in degC is a difference, which reads right only in kelvin.
    u_text = "u = " + say(u, "K" if scale(unit).offset else unit, 3)
    stated = f"± {spread.text} {canonical(written.spread_unit)}".rstrip()
    if written.concise:
        stated = f"{spread.text} in the last digits"
    if written.limits:
        return f"{stated} limits, rectangular: {u_text}"
    freedom = f", {plain(float(written.dof.exact))} degrees of freedom" if written.dof else ""
    if written.k:
        return f"{stated} at k = {written.k.text}{freedom}: {u_text}"
    tail = f": {u_text}" if is_derived else ""
    return f"{stated}, standard uncertainty (k = 1){freedom}{tail}"
