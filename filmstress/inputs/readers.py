"""How the text of one key is read: a quantity, a range, a word, a unit, free text."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, time

from filmstress.errors import RefusedInput
from filmstress.records.quantity import Measured
from filmstress.units.dimensions import Dimension
from filmstress.units.kinds import Kind
from filmstress.units.quantity import read_quantity, read_range
from filmstress.units.words import unit_factor

_LONGEST_SHOWN = 60


@dataclass(frozen=True, slots=True)
class Quantity:
    """A physical quantity, text with a unit."""

    kind: Kind


@dataclass(frozen=True, slots=True)
class QuantityOrRecord(Quantity):
    """A physical quantity, or ``from FILE``: the record of its measurement."""


@dataclass(frozen=True, slots=True)
class QuantityRange:
    """Two quantities, ``low..high``."""

    kind: Kind


@dataclass(frozen=True, slots=True)
class QuantityOrWord:
    """A quantity, or one word in its place."""

    kind: Kind
    word: str


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few words."""

    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class UnitWord:
    """A unit of one dimension; ``example`` shows one."""

    dimension: Dimension
    example: str


@dataclass(frozen=True, slots=True)
class Text:
    """Free text; ``example`` shows how it is written."""

    example: str


Reader = Quantity | QuantityRange | QuantityOrWord | Choice | UnitWord | Text

Value = Measured | tuple[float, float] | str | None
"""What a key's text becomes: a quantity, the ends of a range in SI, a text, or None for "auto"."""


def read_value(raw: object, reader: Reader, *, where: str) -> Value:
    """Read what was stated for one key.

    Parameters
    ----------
    raw : object
        As it came: a text, or what a TOML file or a Python call holds in its place.
    reader : Reader
        How the key wants it.
    where : str
        Place, for messages.

    Raises
    ------
    RefusedInput
        If it cannot be read; the message says what came and how to write it.
    """
    match reader:
        case QuantityOrRecord() if (file := record_named(raw)) is not None:
            return read_text(file, where=where, example="from 01.json")
        case Quantity(kind):
            return _quantity(raw, kind, where)
        case QuantityOrWord(kind, word):
            if isinstance(raw, str) and raw.strip().lower() == word:
                return None
            return _quantity(raw, kind, where)
        case QuantityRange(kind):
            if not isinstance(raw, str):
                raise wrong_type(raw, "a range", kind.example, where)
            low, high = read_range(raw, kind, where=where)
            return low.value, high.value
        case Choice(words):
            return _word(raw, words, where)
        case UnitWord(dimension, example):
            text = read_text(raw, where=where, example=example)
            unit_factor(text, dimension, where=where)
            return text
        case Text(example):
            return read_text(raw, where=where, example=example)


def record_named(raw: object) -> str | None:
    """The file that ``from FILE`` names; None where the text is not of that form."""
    words = raw.split(None, 1) if isinstance(raw, str) else []
    return words[1].strip() if len(words) == 2 and words[0].lower() == "from" else None


def read_text(raw: object, *, where: str, example: str, wanted: str = "a text") -> str:
    """Free text without the blanks around it; a TOML date is taken in its ISO form.

    Raises
    ------
    RefusedInput
        If it is not a text, is empty, or could not be shown on a terminal.
    """
    if isinstance(raw, date | time):
        return raw.isoformat()
    if not isinstance(raw, str) or not raw.strip():
        raise wrong_type(raw, wanted, example, where)
    text = raw.strip()
    if not text.isprintable():
        raise RefusedInput(
            f"{shown(raw)} holds a character that cannot be printed",
            where=where,
            hint=f"write {wanted} on one line, such as '{example}'",
        )
    return text


def _quantity(raw: object, kind: Kind, where: str) -> Measured:
    if isinstance(raw, bool) or not isinstance(raw, str | int | float | Measured):
        raise wrong_type(raw, "a quantity", kind.example, where)
    return read_quantity(raw, kind, where=where)


def _word(raw: object, words: tuple[str, ...], where: str) -> str:
    if isinstance(raw, bool) and words == ("yes", "no"):
        return "yes" if raw else "no"
    word = raw.strip() if isinstance(raw, str) else raw
    if isinstance(word, str) and word in words:
        return word
    raise RefusedInput(
        f"{shown(raw)} came, one of a few words is wanted",
        where=where,
        hint="write one of: " + ", ".join(words),
    )


def wrong_type(raw: object, wanted: str, example: str, where: str) -> RefusedInput:
    """The refusal of something that is not even of the right type."""
    return RefusedInput(
        f"{shown(raw)} came, {wanted} is wanted", where=where, hint=f"write {wanted} '{example}'"
    )


def shown(raw: object) -> str:
    """What came, in words short enough for a message."""
    match raw:
        case bool():
            return "true" if raw else "false"
        case str():
            text = raw if raw.isprintable() else ascii(raw)[1:-1]
            short = text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 3] + "..."
            return f"'{short}'" if raw.strip() else "an empty text"
        case int() | float():
            text = f"{raw:.6g}" if isinstance(raw, float) or abs(raw) < 10**15 else "a huge number"
            return text
        case date() | time():
            return f"the date or time {raw.isoformat()}"
        case list() | tuple():
            return "a list"
        case dict():
            return "a table"
        case _:
            return f"something of type {type(raw).__name__}"
