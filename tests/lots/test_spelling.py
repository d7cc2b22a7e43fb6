"""A lot file says the same however TOML lets it be written (TOML 1.0.0, toml.io)."""

from __future__ import annotations

import json
import random
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from filmstress.inputs.text_file import TextFile
from filmstress.lots.manifest import lot_from, lot_of_text
from filmstress.records.lot import LotSpec

PATH = Path("somewhere/lot.toml")
WORDS = st.text("aZ09-_/. é漢=#'\"\\[]{},", min_size=1, max_size=8).filter(
    lambda word: bool(word.strip())
)
LENGTHS = st.tuples(st.integers(500, 800), st.integers(1, 9)).map(
    lambda pair: f"{pair[0]} um ± {pair[1]} um"
)
LOTS = st.fixed_dictionaries(
    {
        "lot": WORDS,
        "substrate": st.fixed_dictionaries(
            {"material": st.just("Si(001)"), "thickness": LENGTHS},
            optional={"diameter": st.just("150 mm"), "azimuth_reference": st.just("[110]")},
        ),
        "film": st.fixed_dictionaries(
            {"thickness": st.integers(100, 900).map(lambda n: f"{n} nm ± 1 %")},
            optional={"face": st.sampled_from(["up", "down"])},
        ),
        "wafer": st.lists(
            st.fixed_dictionaries(
                {
                    "id": WORDS,
                    "scans": st.lists(
                        st.fixed_dictionaries(
                            {
                                "azimuth": st.integers(0, 170).map(lambda n: f"{n} deg"),
                                "pre": WORDS.map(lambda word: f"pre/{word}.csv"),
                                "post": WORDS.map(lambda word: f"post/{word}.csv"),
                            }
                        ),
                        min_size=1,
                        max_size=2,
                    ),
                },
                optional={"film": st.just({"thickness": "503 nm ± 3 nm"})},
            ),
            min_size=1,
            max_size=3,
            unique_by=lambda wafer: wafer["id"].strip(),
        ),
    },
    optional={"recipe": WORDS, "deposition": st.dictionaries(st.just("tool"), WORDS)},
)


def text_of(word: str, dice: random.Random) -> str:
    """A text as TOML may write it: basic, literal, over several lines, with escapes."""
    ways = [json.dumps(word), json.dumps(word, ensure_ascii=False), f'"""\n{_escaped(word)}"""']
    if "'" not in word:
        ways.append(f"'{word}'")
    return ways[dice.randrange(len(ways))]


def _escaped(word: str) -> str:
    return json.dumps(word, ensure_ascii=False)[1:-1]


def inline(value: Any, dice: random.Random) -> str:
    if isinstance(value, str):
        return text_of(value, dice)
    if isinstance(value, list):
        return "[" + ", ".join(inline(one, dice) for one in value) + "]"
    pairs = [f"{key} = {inline(one, dice)}" for key, one in shuffled(value, dice)]
    return "{ " + ", ".join(pairs) + " }"


def shuffled(table: Mapping[str, Any], dice: random.Random) -> list[tuple[str, Any]]:
    pairs = list(table.items())
    dice.shuffle(pairs)
    return pairs


def written(lot: Mapping[str, Any], dice: random.Random) -> str:
    """The lot as one of the TOML texts that hold it."""
    top, below = list[str](), list[str]()
    for key, value in shuffled(lot, dice):
        if isinstance(value, str) or dice.random() < 0.2:
            top.append(f"{key} = {inline(value, dice)}")
        elif isinstance(value, dict) and dice.random() < 0.4:
            top += [f"{key} . {name} = {inline(one, dice)}" for name, one in value.items()]
        elif isinstance(value, dict):
            below += [f"[ {key} ]  # a table", *lines(value, dice)]
        else:
            for one in value:
                below += [f"[[{key}]]", *lines(one, dice)]
    return "\r\n".join([*top, "", *below, ""]) if dice.random() < 0.3 else "\n".join(top + below)


def lines(table: Mapping[str, Any], dice: random.Random) -> Iterator[str]:
    for key, value in shuffled(table, dice):
        yield f"  {json.dumps(key) if dice.random() < 0.3 else key}\t= {inline(value, dice)}"


def but_for_the_text(lot: LotSpec) -> tuple[Any, ...]:
    return lot.lot, lot.recipe, lot.wafers, lot.specification, lot.deposition


@settings(max_examples=30)
@given(LOTS, st.integers(0, 10**6))
def test_every_spelling_of_a_lot_is_the_same_lot(lot: dict[str, Any], seed: int) -> None:
    text = written(lot, random.Random(seed))
    assert tomllib.loads(text) == lot
    read = lot_of_text(TextFile(PATH, text, ""))
    assert but_for_the_text(read) == but_for_the_text(lot_from(lot, path=PATH))
    assert [wafer.id for wafer in read.wafers] == [one["id"].strip() for one in lot["wafer"]]
    thickness = float(lot["substrate"]["thickness"].split()[0]) * 1e-6
    for wafer in read.wafers:
        assert abs(wafer.substrate.thickness.value - thickness) < 1e-12
