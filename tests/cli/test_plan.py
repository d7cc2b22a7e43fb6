"""``filmstress plan`` from the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli._run import run

STATED = (
    "--substrate", "Si(001)", "--azimuth-reference", "[110]", "--substrate-thickness",
    "675 um", "--diameter", "150 mm", "--points", "500", "--length", "100 mm",
)  # fmt: skip
FILM = ("--film-thickness", "500 nm ± 1 %")


def test_words_json_and_figure(tmp_path: Path) -> None:
    limits = ("--lower", "-250 MPa", "--upper", "-150 MPa", "--height-range", "50 um")
    picture = tmp_path / "plan.svg"
    told = run("plan", *STATED, *FILM, *limits, "--figure", str(picture))
    assert told.code == 0
    assert "Film stress as it would be found  −200 ±" in told.out
    assert "Know the substrate thickness" in told.out
    assert "no vacuum clamp" in told.out
    assert max(map(len, told.out.splitlines())) <= 100
    assert "as planned" in picture.read_text(encoding="utf-8")
    data = run("plan", *STATED, *FILM, *limits, "--json").data
    assert data["schema"] == "filmstress/plan/1"
    assert data["stress"]["value"] == -200e6
    assert data["fits_height_range"] is True
    assert sum(data["chances"].values()) == pytest.approx(1.0)
    assert sum(row["share"] for row in data["budget"]) == pytest.approx(1.0)
    assert data["changes"][0]["what"] == "substrate thickness"


def test_without_a_thickness_of_the_film() -> None:
    data = run("plan", *STATED, "--force", "-100 N/m", "--json").data
    assert data["force_per_width"]["value"] == -100.0
    assert data["force_per_width"]["unit"] == "N/m"


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (FILM, 2, "--stress"),
        (("--stress", "-200 MPa"), 2, "--force"),
        ((*FILM, "--stress", "-200 MPa ± 3 MPa"), 3, "value alone"),
        ((*FILM, "--stress", "-200 mPa"), 3, "MPa"),
        ((*FILM, "--stress", "-200 MPa", "--length", "160 mm"), 3, "longer than the wafer"),
        ((*FILM, "--lower", "1 MPa", "--upper", "0 MPa"), 2, "wrong way round"),
        ((*FILM, "--stress", "1 MPa", "--confidence", "95"), 2, "--confidence"),
        ((*FILM, "--stress", "1 MPa", "--support", "clamped"), 3, ""),
        ((*FILM, "--stress", "1 MPa", "--figure", "plan.doc"), 2, ".png"),
    ],
)
def test_what_is_wrong_is_said(words: tuple[str, ...], code: int, said: str) -> None:
    doubled = [w for w in STATED if not ("--length" in words and w in ("--length", "100 mm"))]
    ended = run("plan", *doubled, *words)
    assert ended.code == code
    assert said in ended.err
