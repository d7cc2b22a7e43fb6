"""Ways in which a file may arrive other than it was written.

A mutation takes dice and bytes and gives bytes; which one it was is kept, so that what comes of it
can be counted by kind.  Texts pass as Latin-1, under which every byte survives.
"""

from __future__ import annotations

import math
import random
import re
import struct
from collections.abc import Callable

Mutation = Callable[[random.Random, bytes], bytes]

MUTATIONS: dict[str, Mutation] = {}

_NUMBER = re.compile(r"[-+]?[0-9]+(?:[.,][0-9]+)?(?:[eE][-+]?[0-9]+)?")
_UNIT = re.compile(
    r"(?<![A-Za-z0-9µ])(?:nm|um|µm|mm|cm|m|MPa|GPa|Pa|deg|%|inch|psi|K)(?![A-Za-z0-9_])"
)
_ELEMENT = re.compile(r"<(\w+)>[^<]*</\1>")
_UNITS = ("nm", "um", "mm", "cm", "m", "km", "pm", "MPa", "GPa", "mPa", "A", "M", "deg", "%", "")
_DELIMITERS = (",", ";", "\t", " ", "|", "  ", ", ", "; ")
_HUGE = (
    *(
        "1e308",
        "-1e308",
        "1e400",
        "1e-400",
        "1e999999999",
        "9" * 400,
        "1" * 5000,
        "0." + "0" * 5000,
    ),
    *("9223372036854775808", "1e9", "1e-320", "0x7fffffff", "1" + "0" * 4301),
)
_ODD = (
    *("nan", "NaN", "inf", "-inf", "Infinity", "null", "None", "true", "", "-", "--", "1_000"),
    *(
        "1,5",
        "1.5.2",
        "0x10",
        "1e",
        ".5",
        "5.",
        "-0",
        "+1",
        "1 000",
        "1'000",
        "٣",
        "１２",
        "½",
        "²",
    ),
    *("=1+1", "1/2", "1,234", "1.234,5", "#N/A", "1e5e5", "e5", "∞", "−3"),
)
_SIGNS = (
    *("\0", "\x1b[31m", "\x07", "\x7f", "\ufeff", "\u2028", "\u202e", "\u200b", "\u00a0", "\u2212"),
    *(
        "µ",
        "é",
        "\U0001f600",
        "\u0301",
        "\ud7ff",
        "\ufffd",
        '"',
        "'",
        "\\",
        "#",
        "\r",
        "\x0c",
        "\x85",
    ),
)
_RAW = (b"\xff\xfe", b"\xc3\x28", b"\xed\xa0\x80", b"\xf4\x90\x80\x80", b"\x80", b"\xff")
_NESTS = (
    ("[", "]"),
    ("{", "}"),
    ("{ a = ", "}"),
    ("[[", "]]"),
    ('{"a":', "}"),
    ("(", ")"),
    ("a.", ""),
)


def mutation(name: str) -> Callable[[Mutation], Mutation]:
    """Enter a mutation under its kind."""

    def enter(function: Mutation) -> Mutation:
        MUTATIONS[name] = function
        return function

    return enter


def _on_text(change: Callable[[random.Random, str], str]) -> Mutation:
    def mutated(dice: random.Random, content: bytes) -> bytes:
        changed = change(dice, content.decode("latin-1"))
        # What was put in beyond Latin-1 is written as UTF-8, as a file would hold it.
        return (
            b"".join(
                sign.encode("latin-1") if ord(sign) < 256 else sign.encode("utf-8", "surrogatepass")
                for sign in changed
            )
            if any(ord(sign) > 255 for sign in changed)
            else changed.encode("latin-1")
        )

    return mutated


def text_mutation(name: str) -> Callable[[Callable[[random.Random, str], str]], Mutation]:
    return lambda function: mutation(name)(_on_text(function))


def _on_lines(change: Callable[[random.Random, list[str]], None]) -> Mutation:
    def mutated(dice: random.Random, text: str) -> str:
        lines = text.splitlines(keepends=True)
        if lines:
            change(dice, lines)
        return "".join(lines)

    return _on_text(mutated)


def lines_mutation(name: str) -> Callable[[Callable[[random.Random, list[str]], None]], Mutation]:
    return lambda function: mutation(name)(_on_lines(function))


def _one(
    pattern: re.Pattern[str], dice: random.Random, text: str, new: Callable[[str], str]
) -> str:
    found = list(pattern.finditer(text))
    if not found:
        return text
    chosen = dice.choice(found)
    return text[: chosen.start()] + new(chosen.group()) + text[chosen.end() :]


@mutation("bits flipped")
def _bits(dice: random.Random, content: bytes) -> bytes:
    changed = bytearray(content)
    for _ in range(dice.choice((1, 1, 2, 8))):
        if changed:
            changed[dice.randrange(len(changed))] ^= 1 << dice.randrange(8)
    return bytes(changed)


@mutation("bytes that are no text")
def _raw(dice: random.Random, content: bytes) -> bytes:
    place = dice.randint(0, len(content))
    return content[:place] + dice.choice(_RAW) + content[place:]


@mutation("cut off")
def _cut(dice: random.Random, content: bytes) -> bytes:
    return content[: dice.randint(0, len(content))]


@lines_mutation("cut off between lines")
def _cut_lines(dice: random.Random, lines: list[str]) -> None:
    del lines[dice.randint(1, len(lines)) :]


@lines_mutation("lines gone")
def _lines_gone(dice: random.Random, lines: list[str]) -> None:
    start = dice.randrange(len(lines))
    del lines[start : start + dice.choice((1, 1, 1, 5, 30))]


@lines_mutation("lines twice")
def _lines_twice(dice: random.Random, lines: list[str]) -> None:
    start = dice.randrange(len(lines))
    block = lines[start : start + dice.choice((1, 1, 1, 5, 30))]
    place = start if dice.random() < 0.5 else dice.randint(0, len(lines))
    lines[place:place] = block


@lines_mutation("lines swapped")
def _lines_swapped(dice: random.Random, lines: list[str]) -> None:
    one, other = dice.randrange(len(lines)), dice.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]


@lines_mutation("blocks shuffled")
def _blocks(dice: random.Random, lines: list[str]) -> None:
    parts = dice.randint(2, 6)
    ends = sorted(dice.randint(0, len(lines)) for _ in range(parts - 1))
    blocks = [lines[a:b] for a, b in zip([0, *ends], [*ends, len(lines)], strict=True)]
    dice.shuffle(blocks)
    lines[:] = [line for block in blocks for line in block]


def _cells(line: str) -> tuple[list[str], str]:
    mark = max(",;\t=", key=line.count)
    return line.rstrip("\r\n").split(mark), mark


def _on_cells(change: Callable[[random.Random, list[str]], None]) -> Mutation:
    def changed(dice: random.Random, lines: list[str]) -> None:
        row = dice.randrange(len(lines))
        cells, mark = _cells(lines[row])
        change(dice, cells)
        lines[row] = mark.join(cells) + "\n"

    return _on_lines(changed)


@mutation("cells swapped")
def _cells_swapped(dice: random.Random, content: bytes) -> bytes:
    return _on_cells(lambda dice, cells: dice.shuffle(cells))(dice, content)


@mutation("a cell gone")
def _cell_gone(dice: random.Random, content: bytes) -> bytes:
    return _on_cells(lambda dice, cells: cells.pop(dice.randrange(len(cells))) and None)(
        dice, content
    )


@mutation("a cell twice")
def _cell_twice(dice: random.Random, content: bytes) -> bytes:
    def twice(dice: random.Random, cells: list[str]) -> None:
        cells.insert(dice.randint(0, len(cells)), dice.choice(cells))

    return _on_cells(twice)(dice, content)


@text_mutation("a sign put in")
def _sign(dice: random.Random, text: str) -> str:
    place = dice.randint(0, len(text))
    return text[:place] + dice.choice(_SIGNS) + text[place:]


@text_mutation("a sign changed")
def _changed(dice: random.Random, text: str) -> str:
    place = dice.randrange(len(text) + 1)
    return text[:place] + dice.choice(" ,;.-+eE0159\t\n\"'[]()=#/nm") + text[place + 1 :]


@text_mutation("a digit changed")
def _digit(dice: random.Random, text: str) -> str:
    return _one(re.compile("[0-9]"), dice, text, lambda _: dice.choice("0123456789"))


@text_mutation("a huge number")
def _huge(dice: random.Random, text: str) -> str:
    return _one(_NUMBER, dice, text, lambda _: dice.choice(_HUGE))


@text_mutation("an odd number")
def _odd(dice: random.Random, text: str) -> str:
    return _one(_NUMBER, dice, text, lambda _: dice.choice(_ODD))


@text_mutation("a number scaled")
def _scaled(dice: random.Random, text: str) -> str:
    return _one(_NUMBER, dice, text, lambda number: number + dice.choice(("0", "e1", "e3", "e-3")))


@text_mutation("a sign of a number turned")
def _turned(dice: random.Random, text: str) -> str:
    return _one(_NUMBER, dice, text, lambda n: n[1:] if n[0] == "-" else "-" + n.lstrip("+"))


@text_mutation("a decimal mark changed")
def _mark(dice: random.Random, text: str) -> str:
    return _one(re.compile(r"(?<=[0-9])[.,](?=[0-9])"), dice, text, lambda _: dice.choice(" ,.;:'"))


@text_mutation("decimal marks changed")
def _marks(dice: random.Random, text: str) -> str:
    return re.sub(r"(?<=[0-9])\.(?=[0-9])", dice.choice((",", "'", "")), text)


@text_mutation("delimiters changed")
def _delimiters(dice: random.Random, text: str) -> str:
    old = max(",;\t=", key=text.count)
    return text.replace(old, dice.choice(_DELIMITERS))


@text_mutation("a unit changed")
def _unit(dice: random.Random, text: str) -> str:
    return _one(_UNIT, dice, text, lambda _: dice.choice(_UNITS))


@text_mutation("nested deep")
def _nested(dice: random.Random, text: str) -> str:
    opened, closed = dice.choice(_NESTS)
    depth = dice.choice((2, 50, 2000, 20_000))
    place = dice.randint(0, len(text))
    return (
        text[:place]
        + opened * depth
        + (closed * depth if dice.random() < 0.5 else "")
        + text[place:]
    )


@text_mutation("a long token")
def _long(dice: random.Random, text: str) -> str:
    place = dice.randint(0, len(text))
    token = dice.choice(("a", "1", " ", "[", "(", "-", ".", "_ ", "0,", '"', "\u0301", ";", "="))
    return text[:place] + token * dice.choice((100, 5000, 60_000)) + text[place:]


@text_mutation("a piece moved")
def _moved(dice: random.Random, text: str) -> str:
    start = dice.randint(0, len(text))
    stop = min(len(text), start + dice.choice((1, 5, 40, 400)))
    rest = text[:start] + text[stop:]
    place = dice.randint(0, len(rest))
    return rest[:place] + text[start:stop] + rest[place:]


@mutation("bytes to nothing")
def _nothing(dice: random.Random, content: bytes) -> bytes:
    start = dice.randint(0, len(content))
    stop = min(len(content), start + dice.choice((1, 5, 400)))
    return content[:start] + b"\0" * (stop - start) + content[stop:]


@mutation("a number of the machine")
def _machine(dice: random.Random, content: bytes) -> bytes:
    kind = dice.choice("hiqfd")
    if kind in "fd":
        number: float = dice.choice((math.nan, math.inf, -math.inf, 0.0, -1.0, 1e30, 1e-40))
    else:
        top = 1 << (8 * struct.calcsize(f"<{kind}") - 1)
        number = dice.choice((-top, top - 1, -1, 0, 1, 1000))
    packed = struct.pack(f"<{kind}", number)
    place = dice.randrange(len(content) // len(packed) + 1) * len(packed)
    return content[:place] + packed + content[place + len(packed) :]


@text_mutation("an element twice, or gone")
def _element(dice: random.Random, text: str) -> str:
    times = dice.choice((0, 2, 3000))
    return _one(_ELEMENT, dice, text, lambda element: element * times)


def mutate(dice: random.Random, content: bytes) -> tuple[str, bytes]:
    """The content after one to three mutations; their kind, "several" where not one."""
    count = dice.choice((1, 1, 1, 1, 2, 3))
    kinds = [dice.choice(list(MUTATIONS)) for _ in range(count)]
    for kind in kinds:
        content = MUTATIONS[kind](dice, content)
    return kinds[0] if count == 1 else "several", content
