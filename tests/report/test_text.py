"""What a reader sees of a result: everything that matters, in lines that fit, with one rounding."""

from __future__ import annotations

import dataclasses
import re

import pytest

from filmstress.records.notice import Notice, RefusalCode, WarningCode
from filmstress.records.quantity import Measured
from filmstress.records.wafer import Face
from filmstress.report.text import CAUTION, WIDTH, to_text, wrapped
from filmstress.report.words import say_estimate
from filmstress.stats.coverage import estimate
from tests.report._lines import make_line, make_registration
from tests.report._results import make_result

RESULTS = {
    "good": make_result(),
    "refused": make_result(refusal=Notice(RefusalCode.CLAMPED, "the wafer was clamped")),
    "no thickness": make_result(film_m=None),
    "three azimuths": make_result(*(make_line(azimuth_deg=a) for a in (0.0, 45.0, 90.0))),
    "compressive": make_result(make_line(change_per_m=-3.6e-3)),
    "flat": make_result(make_line(change_per_m=0.0)),
}


@pytest.mark.parametrize("name", RESULTS)
def test_lines_fit_and_hold_nothing_of_python(name: str) -> None:
    text = to_text(RESULTS[name])
    assert max(map(len, text.splitlines())) <= 100
    assert "\n\n\n" not in text
    assert not text.endswith("\n")
    for word in ("nan", "inf", "None", "[]", "()", "0x", "Measured", "\t"):
        assert not re.search(rf"\b{re.escape(word)}\b", text), word
    assert all(line == line.rstrip() for line in text.splitlines())


def test_the_stress_comes_first_with_its_sense_and_which_stress_it_is() -> None:
    first, second, third, *_ = to_text(RESULTS["good"]).splitlines()
    assert first.startswith("Film stress  +")
    assert first.endswith("tensile")
    assert "95 %" in second
    assert "k = " in second
    assert "now carries" in third
    assert "tension is positive" in third


def test_compressive_is_said_by_word_and_sign() -> None:
    first = to_text(RESULTS["compressive"]).splitlines()[0]
    assert "−" in first
    assert first.endswith("compressive")


@pytest.mark.parametrize("name", ["good", "compressive", "three azimuths", "no thickness"])
def test_every_result_is_said_once_by_the_one_rule(name: str) -> None:
    result, text = RESULTS[name], to_text(RESULTS[name])
    for found in (
        result.stress,
        result.stress_stoney,
        result.force_per_width,
        result.curvature_change,
        result.curvature_pre,
        result.curvature_post,
        result.bow_change,
        *(entry.stress for entry in result.stress_by_direction if len(result.lines) > 1),
    ):
        if found is not None:
            assert say_estimate(found, sign=True) in text


def test_a_refused_result_shows_why_and_no_stress() -> None:
    text = to_text(RESULTS["refused"])
    assert text.startswith("No stress is stated.\n  clamped: the wafer was clamped")
    assert "Film stress" not in text
    assert "budget" not in text
    assert "change of curvature" in text


def test_without_film_thickness_the_force_is_the_headline() -> None:
    text = to_text(RESULTS["no thickness"])
    assert text.startswith("Force per width  +")
    assert "thickness is not stated" in text
    assert "what it makes in N/m" in text


def test_the_radius_is_not_stated_where_its_interval_includes_flat() -> None:
    flat = dataclasses.replace(RESULTS["flat"], radius=None)
    assert "includes flat" in to_text(flat)
    assert re.search(r"radius of the change +\S+ m  \(\S+ m to \S+ m\)", to_text(RESULTS["good"]))


def test_the_budget_shows_every_input_with_type_and_what_is_shared() -> None:
    result = RESULTS["good"]
    lines = to_text(result).splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("Uncertainty budget"))
    rows = lines[start + 2 : start + 2 + len(result.budget.rows)]
    shares = []
    for entry, line in zip(result.budget.rows, rows, strict=True):
        assert line.strip().startswith(entry.term.input)
        assert re.search(rf" % +{entry.term.evaluation}\b", line)
        assert line.endswith(entry.term.common_to or entry.term.evaluation)
        match = re.search(r"([\d.]+) %", line)
        assert match
        shares.append(float(match.group(1)))
    assert sum(shares) == pytest.approx(100.0, abs=0.05 * len(shares))
    assert shares == sorted(shares, reverse=True)


def test_negligible_contributions_do_not_fill_the_table_with_zeros() -> None:
    from tests.report._results import made_of

    text = to_text(make_result(terms=made_of(3.0, 1e-9, 1e-25)))
    assert text.count("< 0.0003") == 2
    assert "0.00000" not in text


def test_defaults_and_warnings_stand_apart() -> None:
    notices = (
        Notice(WarningCode.DEFAULT_USED, "azimuth: default ± 1 deg"),
        Notice(WarningCode.LOW_MATCH, "word " * 60),
    )
    text = to_text(make_result(warnings=notices))
    assert "Defaults used\n  - azimuth: default ± 1 deg\n\nWarnings\n  low-match: word" in text
    assert "Warnings" not in to_text(make_result(warnings=notices[:1]))
    assert "Defaults used" not in to_text(make_result(warnings=notices[1:]))
    assert text.endswith("\n".join(wrapped(CAUTION, "", WIDTH)))


def test_an_offset_that_the_scans_do_not_fix_is_said_so() -> None:
    loose = make_line(registration=make_registration(determined=False, u_offset_m=1.5e-3))
    assert "not fixed by the scans" in to_text(make_result(loose))
    turned = make_line(registration=make_registration(reversed=True))
    assert "taken from the other end" in to_text(make_result(turned))


def test_inputs_are_echoed_as_they_were_read() -> None:
    result = make_result()
    wafer = dataclasses.replace(
        result.wafer,
        substrate=dataclasses.replace(
            result.wafer.substrate,
            thickness=Measured(675e-6, "m", 2e-6, read_as="± 4 um at k = 2: u = 2 um"),
        ),
        film=dataclasses.replace(result.wafer.film, face=Face.DOWN),
        settings=(
            ("substrate.material", "Si(001)"),
            ("substrate.thickness", "675 um ± 4 um (k=2)"),
            ("film.material", "silicon nitride"),
            ("scan.pre_support", "rim"),
            ("scan.window", "-30 mm..30 mm"),
            ("scan.bow_repeatability", "15 nm"),
            ("scans.1.azimuth", "90 deg"),
        ),
    )
    text = to_text(dataclasses.replace(result, wafer=wafer))
    for label, said in (
        ("substrate thickness", r"675 um  \(± 4 um at k = 2: u = 2 um\)"),
        ("film material", "silicon nitride"),
        ("support before", "rim"),
        ("window", r"-30 mm\.\.30 mm"),
        ("bow repeatability", "15 nm"),
        ("line 1, azimuth", r"0 deg"),
        ("film face", "down, on the face not scanned"),
    ):
        assert re.search(rf"^  {label} +{said}", text, re.M), label


def test_wrapping_keeps_every_word_and_what_belongs_together() -> None:
    words = "one two\u00a0three " * 20
    lines = list(wrapped(words, "  lead: ", 40))
    assert lines[0].startswith("  lead: one")
    assert all(len(line) <= 40 for line in lines)
    assert " ".join(lines).split() == ["lead:", *words.split()]
    assert not any(line.endswith(" two") or line.endswith(" one two") for line in lines)
    assert estimate(1.0, "m", u=None).k is None


def test_a_minus_is_a_minus_everywhere() -> None:
    told = list(wrapped("from -20 MPa to (-5) in K7-0412, 2026-03-14, pre/-1.csv", "  ", 99))
    assert told == ["  from −20 MPa to (−5) in K7-0412, 2026-03-14, pre/-1.csv"]
