"""Whatever a user's words hold, the page stays the same but for its words."""

from __future__ import annotations

import dataclasses
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmstress.records.lot import LotResult
from filmstress.records.notice import Notice, WarningCode
from filmstress.report.page.writing import lot_page
from tests.report._lots import make_lot, measured, refused
from tests.report._page import Element, read, skeleton
from tests.report._results import make_result

HOSTILE = [
    "<script>alert(1)</script>",
    "</title><script>alert(1)</script>",
    "</style><img src=x onerror=alert(1)>",
    '"><svg onload=alert(1)>',
    "' onmouseover='alert(1)",
    "</svg></desc></text><iframe src=javascript:alert(1)>",
    "<!-- ",
    "--><b>",
    "]]><x>",
    "{{ 7*7 }}{% raw %}{# #}",
    "&lt;b&gt;&amp;",
    "javascript:alert(1)",
    "https://example.org/?a=b&c=d",
    "$\\frac{1}{2}$",
    "\x00\x07\x1b[31m\u202eabc\u2066",
    "\ud800",
    "a" * 3000,
    "",
]


def lot_of(word: str) -> LotResult:
    """A lot in which everything that a user states is this word."""
    result = make_result(
        wafer_id=word, material=word, warnings=(Notice(WarningCode.LOW_MATCH, word),)
    )
    wafer = dataclasses.replace(
        result.wafer, settings=(("film.material", word), ("scan.operator", word))
    )
    files = tuple(
        (
            state,
            dataclasses.replace(
                source, path=word, position_column=word, height_unit=word, notes=(word,)
            ),
        )
        for state, source in result.files
    )
    terms = [dataclasses.replace(row.term, common_to=word) for row in result.budget.rows]
    rows = tuple(
        dataclasses.replace(row, term=term)
        for row, term in zip(result.budget.rows, terms, strict=True)
    )
    result = dataclasses.replace(
        result, wafer=wafer, files=files, budget=dataclasses.replace(result.budget, rows=rows)
    )
    lot = make_lot(
        measured(result),
        refused(word, word),
        decision="undecided",
        reason="for a reason of the user's own: " + word.replace(";", ","),
        lot=word,
        recipe=word,
        deposition=((word, word),),
    )
    return dataclasses.replace(lot, lot=dataclasses.replace(lot.lot, path=word, table=(word, word)))


PLAIN = read(lot_page(lot_of("plain"), "1"))


def same_but_for_words(word: str) -> Element:
    """Hold the page of this word to that of a plain one; an empty word may leave things out."""
    tree = read(lot_page(lot_of(word), "1"))
    if any(sign.isprintable() and not sign.isspace() for sign in word):
        assert skeleton(tree) == skeleton(PLAIN)
    else:
        assert Counter(skeleton(tree)) <= Counter(skeleton(PLAIN))
    return tree


def test_words_are_told_as_words() -> None:
    text = read(lot_page(lot_of("<b>&amp;"), "1")).text
    assert "Wafer <b>&amp;:" in text


@pytest.mark.parametrize("word", HOSTILE, ids=range(len(HOSTILE)))
def test_no_element_attribute_or_link_comes_from_data(word: str) -> None:
    tree = same_but_for_words(word)
    shown = "".join(tree.texts)
    assert all(sign.isprintable() or sign in "\n\xa0" for sign in shown)
    for one in tree.every():
        for name in ("href", "src", "style", "class", "id"):
            assert "alert" not in (one.attributes.get(name) or "")
        assert "example.org" not in (one.attributes.get("href") or "")


@settings(max_examples=12)
@given(st.text(st.characters(codec="utf-16"), min_size=1, max_size=40))
def test_any_text_is_only_a_text(word: str) -> None:
    same_but_for_words(word)
