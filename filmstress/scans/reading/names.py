"""What a column's name says: the axis it stands for, and its unit."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum

from filmstress.units.words import dimension_of, is_unit_word


class Axis(Enum):
    """What a column holds."""

    POSITION = "position"
    HEIGHT = "height"


# Strongest first: a letter of the axis, a word that means one of the two, a word that leans so.
_WORDS: tuple[dict[str, Axis], ...] = (
    {"x": Axis.POSITION, "z": Axis.HEIGHT},
    dict.fromkeys(("position", "pos", "distance", "lateral", "location"), Axis.POSITION)
    | dict.fromkeys(
        ("height", "heights", "profile", "elevation", "deflection", "vertical", "topography"),
        Axis.HEIGHT,
    ),
    dict.fromkeys(("scan", "length", "coordinate", "radius", "radial", "r"), Axis.POSITION)
    | dict.fromkeys(("displacement", "surface"), Axis.HEIGHT),
)

# A column that counts or times the points says nothing of where they are.
COUNTERS = frozenset(("index", "no", "nr", "number", "point", "points", "row", "time", "t", "n"))

_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])")
_BRACKETS = re.compile(r"\[([^\[\]]*)\]|\(([^()]*)\)")
# A longer cell is no column's name, and would take the patterns long.
_LONGEST = 300
_ENDING = re.compile(r"(.*?)[\s_.,:-]+([^\s_.,:-]+)")


@dataclass(frozen=True, slots=True)
class Name:
    """A column's name without its unit, and the words in it that claim to be the unit."""

    text: str
    units: tuple[str, ...]


def words_of(text: str) -> list[str]:
    """Lower-case words of a name or key."""
    return re.findall(r"[^\W\d_]+", _CAMEL.sub(" ", text).lower())


def axis_of(words: Iterable[str], *, surely: bool = False) -> Axis | None:
    """Axis that words name; None where they name none, or both alike, or only lean to one."""
    words = set(words)
    for level in _WORDS[:-1] if surely else _WORDS:
        if found := {level[word] for word in words if word in level}:
            return found.pop() if len(found) == 1 else None
    return None


def read_name(cell: str) -> Name:
    """Part a column's head into name and unit: ``x [mm]``, ``x (mm)``, ``x / mm``, ``x_mm``.

    A word in brackets claims to be the unit even where it is not known, so that a message can
    show it; of several, the lengths count.
    """
    cell = cell.strip()
    if len(cell) > _LONGEST:
        return Name(cell, ())
    if is_unit_word(cell, "length"):
        return Name("", (cell,))
    bracketed = [(a or b).strip() for a, b in _BRACKETS.findall(cell)]
    name = " ".join(_BRACKETS.sub(" ", cell).split()).rstrip(" ,:/-_")
    if lengths := tuple(word for word in bracketed if is_unit_word(word, "length")):
        return Name(name, lengths)
    head, slash, unit = (part.strip() for part in name.rpartition("/"))
    if slash and head and dimension_of(unit) not in (None, "number"):
        return Name(head, (unit,))
    if (ending := _ENDING.fullmatch(name)) and is_unit_word(ending[2], "length"):
        return Name(ending[1].strip(), (ending[2],))
    return Name(name, tuple(filter(None, bracketed)))
