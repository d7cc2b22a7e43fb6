"""An example lot file, made from the tables of keys."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from filmstress.inputs.keys import Key, keys_of
from filmstress.inputs.readers import (
    Choice,
    Quantity,
    QuantityOrWord,
    QuantityRange,
    Reader,
    Text,
    UnitWord,
)
from filmstress.inputs.settings import RIVALS
from filmstress.lots.specification import LIMITS, SAMPLING

# What an ordinary lot states, with the word where the first choice is not the usual one.
_STATED = {
    "substrate.material": "",
    "substrate.azimuth_reference": "",
    "substrate.diameter": "",
    "substrate.thickness": "",
    "film.thickness": "",
    "scan.support": "three-points",
    "scan.bow_repeatability": "",
    "specification.lower": "",
    "specification.upper": "",
}
_OF_A_LINE = ("azimuth",)
_COMMENT = 44

_HEAD = """\
# An example lot file. A line that begins with # is not read: take the sign away to state its key.
# Quantities are texts with a unit and an uncertainty: "525 um ± 2 um" (standard uncertainty),
# "525 um ± 4 um (k=2)", "525 um ± 20 um (limits)", "525 um (exact)"; without one, a default is used
# and printed. Files are looked for from this file's folder.
# Check it with  filmstress lot LOT.toml --check
"""

_DEPOSITION = """\
# Free words and process parameters, for the record.
[deposition]
# tool = "PX-2"
# date = "2026-03-14"
# pressure = "0.6 Pa"
"""

_WAFER = """\
# One for each wafer. It may state any key again: film.thickness = "503 nm ± 3 nm"; keys of [scan]
# stand without their table's name, also inside an entry of scans. The same azimuth twice is a
# repeat, which wants a new scan.
[[wafer]]
id = "01"
"""

_SCANS = """\
scans = [
  { azimuth = "0 deg", pre = "pre/01-000.csv", post = "post/01-000.csv" },
  { azimuth = "90 deg", pre = "pre/01-090.csv", post = "post/01-090.csv" },
]
"""


def template() -> str:
    """A commented lot file that can be read as it stands, apart from the scans that it names."""
    return "\n".join(
        "".join(f"{line}\n" for line in block).rstrip("\n") + "\n" for block in _blocks()
    )


def _blocks() -> Iterator[Iterable[str]]:
    yield [_HEAD.rstrip("\n")]
    yield [
        _line('lot = "K7-0412"', "Name of the lot."),
        _line('recipe = "nitride-low-stress"', "Name of the recipe; may be left out."),
        _line('# wafers = "wafers.csv"', "A table, one row a scan, in place of [[wafer]] below."),
    ]
    for table in ("substrate", "film", "scan"):
        yield _table(table)
    yield _specification()
    yield [_DEPOSITION.rstrip("\n")]
    yield [_WAFER.rstrip("\n"), *map(_of_key, keys_of("wafer").values()), _SCANS]


def _table(name: str) -> Iterator[str]:
    if name == "scan":
        yield "# Each key also as pre_... and post_... where the two scans of a line differ."
    yield f"[{name}]"
    for key in keys_of(name).values():
        if key.name not in _OF_A_LINE:
            yield _of_key(key)


def _of_key(key: Key) -> str:
    told = key.help
    if isinstance(key.reader, Choice):
        told = f"{told} One of: {' | '.join(key.reader.words)}"
    if (rivals := sorted(rivals_of(key.table, key.name))) and key.full_name not in _STATED:
        told = f"{told} Not beside {', '.join(rivals)}."
    return _stated(key.full_name, key.name, _example(key.full_name, key.reader), told)


def rivals_of(table: str, name: str) -> set[str]:
    """The keys of a table that exclude a key of it, or are excluded by it."""
    rows = RIVALS.get(table, {})
    return {*rows.get(name, ()), *(other for other, those in rows.items() if name in those)}


def _stated(full_name: str, name: str, value: str, told: str) -> str:
    sign = "" if full_name in _STATED else "# "
    return _line(f"{sign}{name} = {value}", told)


def _line(code: str, told: str) -> str:
    return f"{code:<{_COMMENT}}  # {told}"


def _specification() -> Iterator[str]:
    yield "# Limits on the lot; without this table there is no decision."
    yield "[specification]"
    for name, (reader, told) in LIMITS.items():
        yield _stated(f"specification.{name}", name, _example("", reader), told)
    inside = ", ".join(f"{name} = {_example('', row[0])}" for name, row in SAMPLING.items())
    yield "# Where the wafers are a sample of the lot:"
    yield f"# sampling = {{ {inside} }}"
    for name, (_, told) in SAMPLING.items():
        yield f"#   {name}: {told}"


def _example(full_name: str, reader: Reader) -> str:
    """The value as TOML writes it: a text, or a bare number where that is all it is."""
    match reader:
        case Quantity(kind) if kind.dimension == "number" and "±" not in kind.example:
            return kind.example
        case Quantity(kind) | QuantityRange(kind) | QuantityOrWord(kind, _):
            return f'"{kind.example}"'
        case Choice(words):
            return f'"{_STATED.get(full_name) or words[0]}"'
        case Text(example) | UnitWord(_, example):
            return f'"{example}"'
