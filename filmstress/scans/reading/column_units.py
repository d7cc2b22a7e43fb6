"""Units of the columns, and the sampling interval: the file's word and the user's."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from filmstress.errors import QuantityError, ScanError
from filmstress.records.scan import ReadingOptions
from filmstress.scans.reading.header import Claim, Header, Interval
from filmstress.scans.reading.layout import Layout
from filmstress.scans.reading.names import Axis
from filmstress.scans.reading.numerals import shown
from filmstress.units.say import plain
from filmstress.units.words import dimension_of, is_unit_word, unit_factor


@dataclass(frozen=True, slots=True)
class Unit:
    """A length unit in force: its word, what it is in metres, whether the user stated it."""

    word: str
    factor: float
    stated: bool


def _option(axis: Axis) -> str:
    return f"--{axis.value}-unit"


def unit_of_column(
    axis: Axis, cell: int, header: Header, stated: str | None, where: str, notes: list[str]
) -> Unit:
    """Settle the unit of a column: all that the file says must agree, and with what is stated.

    Raises
    ------
    ScanError
        If there is none, it is no length, or two contradict each other.
    """
    claims = [*header.units[cell], *header.axis_units[axis]]
    lengths = [claim for claim in claims if is_unit_word(claim.word, "length")]
    for claim in lengths[1:]:
        if _factor(claim.word) != _factor(lengths[0].word):
            raise ScanError(
                f"the {axis.value} column has two units, {shown(claim.word)} and "
                f"{shown(lengths[0].word)} (line {lengths[0].line})",
                where=where,
                hint="mend the file",
                line=claim.line,
            )
    if stated is None:
        if lengths:
            return Unit(lengths[0].word, _factor(lengths[0].word), stated=False)
        raise _no_unit(axis, claims, where)
    try:
        factor = unit_factor(stated, "length")
    except QuantityError as error:
        raise ScanError(
            f"the {axis.value} unit as stated: {error.message}", where=where, hint=error.hint
        ) from error
    contradicting = [claim for claim in claims if _contradicts(claim.word, factor)]
    if contradicting:
        raise ScanError(
            f"the file gives the {axis.value} in {shown(contradicting[0].word)}, "
            f"but {shown(stated)} was stated",
            where=where,
            hint=f"leave {_option(axis)} away, or mend the file",
            line=contradicting[0].line,
        )
    if not lengths:
        notes.append(f"{axis.value} unit {stated} as stated, not in the file")
    return Unit(stated, factor, stated=True)


def _factor(word: str) -> float:
    return unit_factor(word, "length")


def _contradicts(word: str, factor: float) -> bool:
    """Whether a file's word speaks against a stated unit; a word that is no unit cannot."""
    if is_unit_word(word, "length"):
        return _factor(word) != factor
    if word == "A" and factor == _factor("angstrom"):
        return False  # ampere to us, but that is how many write the angstrom
    return dimension_of(word) not in (None, "number")


def _no_unit(axis: Axis, claims: Sequence[Claim], where: str) -> ScanError:
    example = {"position": "x [mm]", "height": "z [um]"}[axis.value]
    word = {"position": "mm", "height": "um"}[axis.value]
    advice = f"state it with {_option(axis)} {word} (or write it in the header: '{example}')"
    if not claims:
        return ScanError(f"the {axis.value} column has no unit", where=where, hint=advice)
    try:
        unit_factor(claims[0].word, "length")
    except QuantityError as error:
        return ScanError(
            f"the unit of the {axis.value} column: {error.message}",
            where=where,
            hint=f"{error.hint}; {advice}",
            line=claims[0].line,
        )
    raise AssertionError(claims)  # a length would have been taken


def sampling_interval(layout: Layout, header: Header, options: ReadingOptions, where: str) -> Unit:
    """Settle the sampling interval [m], as the unit in which the numbers of the rows count.

    Raises
    ------
    ScanError
        If there is none, it is no length above zero, or two contradict each other.
    """
    stated = options.interval
    if stated is not None and not 0.0 < stated < math.inf:
        raise ScanError(
            f"the interval as stated is {stated:g} m; want a length above zero", where=where
        )
    found = [_interval_m(one, layout, options, where) for one in header.intervals]
    if stated is not None:
        found.append(Unit("m", stated, stated=True))
    if not found:
        raise ScanError(
            "holds heights only and no sampling interval",
            where=where,
            hint="state it with --interval '0.5 um' "
            "(or write above the heights: 'sampling interval: 0.5 um')",
        )
    for other in found[1:]:
        if not math.isclose(other.factor, found[0].factor, rel_tol=1e-9):
            raise ScanError(
                f"two sampling intervals, {plain(found[0].factor)} m and "
                f"{plain(other.factor)} m{' as stated' if other.stated else ''}",
                where=where,
                hint="leave one of them away",
                line=header.intervals[0].line,
            )
    return found[0]


def _interval_m(one: Interval, layout: Layout, options: ReadingOptions, where: str) -> Unit:
    word = one.unit or options.position_unit
    if word is None:
        raise ScanError(
            f"the sampling interval {shown(one.number)} has no unit",
            where=where,
            hint="state it with --position-unit um (or write it beside the number)",
            line=one.line,
        )
    try:
        value = layout.notation.number(one.number) * unit_factor(word, "length")
    except QuantityError as error:
        raise ScanError(
            f"the unit of the sampling interval: {error.message}",
            where=where,
            hint=error.hint,
            line=one.line,
        ) from error
    except ValueError:
        value = math.nan
    if not 0.0 < value < math.inf:
        raise ScanError(
            f"the sampling interval {shown(one.number)} is no length above zero "
            f"(decimal mark '{layout.notation.decimal}')",
            where=where,
            hint="write it with the decimal mark of the heights",
            line=one.line,
        )
    return Unit(word, value, stated=False)
