"""The report: its order, its structure, its numbers; one file that needs nothing beside it."""

from __future__ import annotations

import itertools
import re

import pytest

from filmstress.lots.batch import measure_lot
from filmstress.lots.manifest import read_lot
from filmstress.records.lot import LotResult, WaferOutcome
from filmstress.records.notice import WarningCode
from filmstress.report.lot import lot_data
from filmstress.report.page.writing import lot_page, wafer_page
from filmstress.report.words import say_estimate
from tests.conftest import DEMO
from tests.report._lines import make_line
from tests.report._lots import make_lot, measured, named, refused
from tests.report._page import Element, read
from tests.report._results import make_result, notice

TWO_AZIMUTHS = (make_line(), make_line(azimuth_deg=90.0, seed=2))


def some_lots() -> dict[str, LotResult]:
    one = measured(make_result(*TWO_AZIMUTHS))
    clamped = notice(WarningCode.LOW_MATCH)
    bare = measured(make_result(make_line(bare=True), warnings=(clamped,)))
    return {
        "accepted": make_lot(one, named(one, "02")),
        "rejected": make_lot(one, named(one, "02", conformance_probability=0.001),
                             decision="rejected", reason="outside the limits: wafer 02"),
        "undecided": make_lot(one, bare, refused(), decision="undecided",
                              reason="wafer 99 refused; measure again"),
        "no decision": make_lot(measured(conforms=None), decision=None, specification=None,
                                reason="no specification is stated", deposition=()),
        "nothing measured": make_lot(refused("01"), decision="undecided", reason="refused"),
        "force only": make_lot(measured(film_m=None, conforms=None), decision="undecided",
                               reason="no stress"),
    }  # fmt: skip


LOTS = some_lots()
PAGES = {name: lot_page(lot, "9.9.9") for name, lot in LOTS.items()} | {
    "one wafer": wafer_page(measured(), "9.9.9"),
    "one refused": wafer_page(refused(), "9.9.9"),
}
each_page = pytest.mark.parametrize("page", PAGES.values(), ids=PAGES)


@each_page
def test_the_page_needs_nothing_beside_it(page: str) -> None:
    tree = read(page)
    assert not tree.all("script", "link", "img", "iframe", "object", "embed", "form", "base")
    assert not re.search(r"https?:|//[a-z]|@import|javascript:|url\((?!#)", page)
    for one in tree.every():
        assert not [name for name in one.attributes if name.startswith("on")]
        for name in ("href", "src"):
            assert (one.attributes.get(name) or "#").startswith("#")


@each_page
def test_references_lead_somewhere_and_ids_are_unique(page: str) -> None:
    tree = read(page)
    ids = [one.attributes["id"] for one in tree.every() if "id" in one.attributes]
    assert len(ids) == len(set(ids))
    for one in tree.every():
        named_in = [one.attributes["href"][1:]] if one.attributes.get("href") else []
        named_in += (one.attributes.get("aria-labelledby") or "").split()
        named_in += re.findall(r"url\(#([^)]+)\)", " ".join(filter(None, one.attributes.values())))
        assert set(named_in) <= set(ids), one


@each_page
def test_headings_are_in_order(page: str) -> None:
    headings = [one.tag for one in read(page).all("h1", "h2", "h3", "h4", "h5", "h6")]
    assert headings[0] == "h1"
    assert headings.count("h1") == 1
    levels = [int(tag[1]) for tag in headings]
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))


@each_page
def test_the_page_can_be_read_without_seeing_it(page: str) -> None:
    tree = read(page)
    (html,) = tree.all("html")
    assert html.attributes["lang"] == "en"
    assert tree.all("title")[0].text
    for svg in tree.all("svg"):
        if svg.attributes.get("aria-hidden") == "true":
            continue
        assert svg.attributes["role"] == "img"
        assert [child.tag for child in svg.children[:2]] == ["title", "desc"]
        assert all(child.text for child in svg.children[:2])
    for table in tree.all("table"):
        assert table.all("caption")
        assert all(one.attributes["scope"] in {"col", "row"} for one in table.all("th"))
        for row in table.all("tr"):
            assert len(row.all("th", "td")) == len(table.all("tr")[0].all("th"))


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition of the same name)."""
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return sum(w * p for w, p in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_words_stand_out_from_what_is_behind_them() -> None:
    css = PAGES["accepted"]
    names = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", css))
    grounds = {names["paper"], names["sand"], *re.findall(r"background: (#[0-9a-f]{6})", css)}
    inks = {names[n] if n else c for n, c in
            re.findall(r"[; {]color: (?:var\(--(\w+)\)|(#[0-9a-f]{6}))", css)}  # fmt: skip
    inks.discard(names["paper"])  # on ink alone
    assert {names["ink"], "#46545e"} <= inks
    assert contrast(names["paper"], names["ink"]) >= 4.5
    for ink in inks:
        for ground in grounds:
            assert contrast(ink, ground) >= 4.5, (ink, ground)


def test_no_type_is_smaller_than_eleven_pixels() -> None:
    page = PAGES["accepted"]
    css = page[page.index("<style>") : page.index("@page")]
    sizes = [16.0 * float(size) for size in re.findall(r"(?:font-size|font): ([\d.]+)rem", css)]
    assert len(sizes) > 10
    assert min(sizes) >= 11.0
    # A figure is drawn never narrower than on a phone of 390 px.
    for svg in read(page).all("svg"):
        width = float((svg.attributes.get("viewbox") or "0 0 0 0").split()[2])
        for text in svg.all("text"):
            size = float(re.search(r"font-size: ([\d.]+)px", text.attributes["style"] or "")[1])
            assert size * 358.0 / width >= 11.0


def words_in_order(page: str, *words: str) -> None:
    text = read(page).all("main")[0].text
    places = [text.index(word) for word in words]
    assert places == sorted(places), dict(zip(words, places, strict=True))


def test_the_decision_comes_first_and_the_signature_last() -> None:
    words_in_order(
        PAGES["undecided"],
        "Undecided",
        "wafer 99 refused",
        "measure again",
        "The lot",
        "nitride",
        "Deposition, as stated",
        "0.6 Pa",
        "The wafers",
        "Wafer by wafer",
        "Uncertainty budget",
        "Inputs as read",
        "How the scans were used",
        "pre-1.csv",
        "Files of the lot",
        "ab" * 32,
        "Versions and sources",
        "filmstress 9.9.9",
        "2026-11",
        "can shatter",
        "Stripping",
        "site's own rules",
        "Signature",
        "Date",
    )


@pytest.mark.parametrize(
    ("name", "word"),
    [("accepted", "Accepted"), ("rejected", "Rejected"), ("undecided", "Undecided"),
     ("no decision", "No decision")],
)  # fmt: skip
def test_the_decision_is_a_word_in_the_first_heading_and_in_the_title(name: str, word: str) -> None:
    tree = read(PAGES[name])
    assert word in tree.all("h1")[0].text
    assert word in tree.all("title")[0].text
    assert tree.of_class("decision")[0].text.startswith(tree.all("h1")[0].text)


def cells(tree: Element) -> list[list[str]]:
    (table,) = tree.of_class("wafers")
    return [[cell.text for cell in row.all("th", "td")] for row in table.all("tr")]


def test_the_table_says_of_every_wafer_what_became_of_it() -> None:
    heads, *rows = cells(read(PAGES["undecided"]))
    assert heads == ["wafer", "stress ± U", "sense", "conforms", "verdict", "look at"]
    told = say_estimate(LOTS["undecided"].wafers[0].stress, sign=True)
    assert rows[0] == ["wafer 01", told, "←→ tensile", "> 0.999", "● within the limits", "nothing"]
    assert rows[1][-1] == "low-match"
    assert rows[2] == ["wafer 99", "none", "not stated", "not judged", "— refused", "unreadable"]


def test_without_limits_nothing_is_called_within_them() -> None:
    heads, row = cells(read(PAGES["no decision"]))
    assert "conforms" not in heads
    assert row[3] == "measured"


@pytest.mark.parametrize("lot", ["N24-04", "M24-11"])
def test_the_numbers_are_those_of_the_data(lot: str) -> None:
    result = measure_lot(read_lot(str(DEMO / lot / "lot.toml")))
    tree, data = read(lot_page(result, "1")), lot_data(result, "1")
    for kind, key in (("found", "stress"), ("conforms", "conformance_probability")):
        shown = [float(one.attributes["value"] or "") for one in tree.of_class(kind)]
        assert shown == [
            wafer[key]["value"] if key == "stress" else wafer[key] for wafer in data["wafers"]
        ]
    text = tree.text
    for outcome, wafer in zip(result.wafers, data["wafers"], strict=True):
        assert say_estimate(outcome.stress, sign=True) in text
        for warning in wafer["warnings"]:
            assert warning["code"] in text
            assert warning["message"] in text
        for file in wafer["inputs"]["files"]:
            assert file["sha256"] in text
            assert file["file"] in text
    budgets = list(tree.of_class("budget"))
    for table, wafer in zip(budgets, data["wafers"], strict=True):
        rows = [[cell.text for cell in row.all("th", "td")] for row in table.all("tr")[1:]]
        assert [row[0] for row in rows] == [row["input"] for row in wafer["budget"]]
        for shown, row in zip(rows, wafer["budget"], strict=True):
            assert float(shown[6].removesuffix(" %")) == pytest.approx(100 * row["share"], abs=0.06)
            assert shown[7] == row["evaluation"]
            assert shown[9] == (row["common_to"] or "nothing else")
            if not shown[5].startswith("<"):
                assert float(shown[5]) * 1e6 == pytest.approx(row["contribution"], rel=0.06)
            size = float(shown[4].split()[0].replace("−", "-"))
            assert (size < 0.0) == (row["sensitivity"] < 0.0)
    assert result.lot.sha256 in text
    for parameter in result.lot.deposition:
        assert parameter.text in text


def test_each_azimuth_is_drawn_and_repeats_share_a_figure() -> None:
    lines = [make_line(azimuth_deg=a, seed=s) for a, s in ((0, 1), (0, 2), (45, 3), (90, 4))]
    tree = read(wafer_page(measured(make_result(*lines)), "1"))
    heads = [one.text for one in tree.all("figcaption")]
    assert heads == ["azimuth 0 deg, 2 repeats", "azimuth 45 deg", "azimuth 90 deg"]


def test_a_refused_wafer_says_why_and_what_was_found_all_the_same() -> None:
    refusal = refused(message="x.csv: no such file\n  check the name").refusal
    result = make_result(refusal=refusal)
    text = read(wafer_page(WaferOutcome(result.wafer, result, refusal), "1")).text
    assert "No stress is stated" in text
    assert "unreadable x.csv: no such file; check the name" in text
    assert "change of curvature" in text
    assert "Uncertainty budget" not in text


def test_the_record_stands_among_the_files_to_be_signed_for() -> None:
    page = lot_page(LOTS["accepted"], "1", record=("records/0007-K7.json", "cd" * 32))
    rows = [[cell.text for cell in row.all("th", "td")] for row in read(page).all("tr")]
    assert ["record", "records/0007-K7.json", "cd" * 32] in rows


def test_the_same_result_gives_the_same_page() -> None:
    again = some_lots()
    assert lot_page(again["undecided"], "9.9.9") == PAGES["undecided"]
    assert wafer_page(measured(), "9.9.9") == PAGES["one wafer"]
