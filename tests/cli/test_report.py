"""``--report`` and a lot's ``--figure``: written whole, last, and asked for first."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from filmstress.cli import exits
from tests.cli._run import DEMO, MEASURE, SUBSTRATE, run
from tests.rules.test_start_up import loaded_by

LOT = ("lot", str(DEMO / "M24-11" / "lot.toml"))
COMMANDS = {"lot": LOT, "measure": MEASURE}


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@pytest.mark.parametrize("arguments", COMMANDS.values(), ids=COMMANDS)
def test_the_report_is_written_beside_the_result(
    arguments: tuple[str, ...], tmp_path: Path
) -> None:
    file = tmp_path / "Report 1.HTML"
    plain = run(*arguments, "--json")
    ended = run(*arguments, "--json", "--report", str(file))
    assert (ended.code, ended.out) == (plain.code, plain.out)
    assert f"report written: {file}" in ended.err
    assert file.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    first = file.read_bytes()
    run(*arguments, "--report", str(file))
    assert file.read_bytes() == first
    assert names(tmp_path) == [file.name]


def test_a_lot_is_drawn(tmp_path: Path) -> None:
    for name in ("lot.svg", "lot.png", "lot.pdf"):
        ended = run(*LOT, "--figure", str(tmp_path / name))
        assert ended.code == exits.NOT_ACCEPTED
        assert f"figure written: {tmp_path / name}" in ended.err
    assert "Rejected" in (tmp_path / "lot.svg").read_text(encoding="utf-8")


def test_a_measurement_that_is_refused_still_has_its_page(tmp_path: Path) -> None:
    file = tmp_path / "r.html"
    for refusal in (("--support", "clamped"), ("--window", "100 mm..110 mm")):
        ended = run(*MEASURE, *refusal, "--report", str(file))
        assert ended.code == exits.REFUSED
        assert "No stress is stated" in file.read_text(encoding="utf-8")


@pytest.mark.parametrize("arguments", COMMANDS.values(), ids=COMMANDS)
@pytest.mark.parametrize("name", ["r.pdf", "r", "r.html.gz"])
def test_another_ending_is_wrong_usage(
    arguments: tuple[str, ...], name: str, tmp_path: Path
) -> None:
    ended = run(*arguments, "--report", str(tmp_path / name))
    assert (ended.code, ended.out) == (exits.USAGE, "")
    assert "a report is written as .html" in ended.err


PLACES = {
    "no directory": ("nowhere/r.html", "there is no such directory"),
    "a directory": ("folder.html", "it is a directory"),
}


@pytest.mark.parametrize(("place", "why"), PLACES.values(), ids=PLACES)
@pytest.mark.parametrize("arguments", COMMANDS.values(), ids=COMMANDS)
def test_a_place_is_asked_for_before_anything_is_read(
    arguments: tuple[str, ...], place: str, why: str, tmp_path: Path
) -> None:
    (tmp_path / "folder.html").mkdir()
    (tmp_path / "folder.svg").mkdir()
    # The data are not there either, and nobody has come to notice.
    arguments = tuple(word.replace(".toml", ".no").replace(".csv", ".no") for word in arguments)
    for option, ending in (("--report", ".html"), ("--figure", ".svg")):
        ended = run(*arguments, option, str(tmp_path / place.replace(".html", ending)))
        assert (ended.code, ended.out) == (exits.REFUSED, "")
        assert f"cannot be written: {why}" in ended.err


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_directory_that_may_not_be_written_to_is_said(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    ended = run(*MEASURE, "--report", str(tmp_path / "r.html"))
    tmp_path.chmod(0o700)
    assert (ended.code, ended.out) == (exits.REFUSED, "")
    assert "may not be written to" in ended.err


@pytest.mark.parametrize("arguments", COMMANDS.values(), ids=COMMANDS)
def test_a_disk_that_is_full_at_the_end_takes_no_number_away(
    arguments: tuple[str, ...], tmp_path: Path, monkeypatch: Any
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    file = tmp_path / "r.html"
    file.write_text("old")
    monkeypatch.setattr("pathlib.Path.replace", full)
    ended = run(*arguments, "--json", "--report", str(file))
    assert ended.code == exits.REFUSED
    assert ended.data["schema"].startswith("filmstress/")
    assert "the report cannot be written: No space left on device" in ended.err
    assert file.read_text() == "old"
    assert names(tmp_path) == ["r.html"]


def test_without_a_report_nothing_of_it_is_loaded() -> None:
    # Not jinja2 itself: pint loads it by way of dask, where that is installed.
    loaded = loaded_by(*MEASURE[:3], *SUBSTRATE)
    assert not {"matplotlib", "filmstress.report.page", "filmstress.report.files"} & loaded
