"""The options of ``measure`` are the keys of the lot file."""

from __future__ import annotations

from typing import Any

import pytest

from filmstress.inputs.keys import Key, all_keys, arguments
from filmstress.inputs.readers import Choice, Quantity, QuantityOrWord, QuantityRange
from tests.cli._run import FILM, MEASURE, POST, PRE, SUBSTRATE, run

# As the contract lists them, with a text for each.
PROMISED = {
    "--substrate": "Si(001)",
    "--substrate-thickness": "675 um",
    "--diameter": "150 mm",
    "--azimuth": "0 deg",
    "--azimuth-reference": "[110]",
    "--film-thickness": "500 nm",
    "--film-modulus": "200 GPa",
    "--film-face": "up",
    "--support": "rim",
    "--support-radius": "50 mm",
    "--bow-repeatability": "15 nm",
    "--window": "-50 mm..50 mm",
    "--offset": "auto",
    "--bare-bow": "0 um ± 15 um",
}


def measured(*extra: str) -> dict[str, Any]:
    stated = {
        **dict(zip(SUBSTRATE[::2], SUBSTRATE[1::2], strict=True)),
        **dict(zip(FILM[::2], FILM[1::2], strict=True)),
        **dict(zip(extra[::2], extra[1::2], strict=True)),
    }
    ended = run("measure", PRE, POST, *(word for pair in stated.items() for word in pair), "--json")
    assert ended.code == 0, ended.err
    data: dict[str, Any] = ended.data
    return data


def test_every_promised_option_is_taken_and_shown_in_help() -> None:
    told = run("measure", "--help").out
    data = measured(*(word for pair in PROMISED.items() for word in pair))
    for flag, text in PROMISED.items():
        assert f"{flag} " in told
        assert text in data["inputs"]["settings"].values()


def test_every_key_is_an_option_in_help() -> None:
    told = run("measure", "--help").out
    for key in all_keys():
        assert f"--{key.argument.replace('_', '-')} " in told
    assert "--pre-..." in told
    assert "--post-..." in told


def test_help_shows_how_each_quantity_is_written() -> None:
    told = run("measure", "--help").out
    for key in all_keys():
        if isinstance(key.reader, Quantity | QuantityOrWord | QuantityRange):
            assert f'"{key.reader.kind.example}"' in told


def _text(key: Key) -> str:
    reader = key.reader
    if isinstance(reader, Quantity | QuantityOrWord | QuantityRange):
        return reader.kind.example
    if isinstance(reader, Choice):
        return reader.words[0]
    return reader.example


@pytest.mark.parametrize(
    ("name", "key"),
    [(name, key) for name, key, _ in arguments()],
    ids=[name for name, _, _ in arguments()],
)
def test_every_option_takes_its_example_or_says_why_not(name: str, key: Key) -> None:
    flag = "--" + name.replace("_", "-")
    base = [word for word in MEASURE if word not in {"--substrate", "Si(001)"}]
    if key.table != "substrate":
        base = list(MEASURE)
    elif key.argument not in {"substrate", "substrate_modulus"}:
        base += ["--substrate-modulus", "180 GPa ± 1 GPa"]
    if flag in base:
        at = base.index(flag)
        del base[at : at + 2]
    ended = run(*base, flag, _text(key))
    assert ended.code in {0, 3}
    if ended.code == 3:
        assert ended.err.startswith("filmstress: ")
    # No option may be misspelled or unknown to the reader of settings.
    assert "unknown setting" not in ended.err


def test_an_option_for_one_scan_speaks_of_that_scan() -> None:
    both = measured("--bow-repeatability", "15 nm")
    one = measured("--post-bow-repeatability", "15 nm")
    conditions = one["inputs"]["lines"][0]
    assert conditions["post"]["bow_repeatability"]["standard_uncertainty"] == pytest.approx(15e-9)
    assert conditions["pre"]["bow_repeatability"]["standard_uncertainty"] == 0.0
    shares = [
        next(row for row in data["budget"] if row["input"] == "bow repeatability")
        for data in (both, one)
    ]
    ratio = shares[0]["contribution"] / shares[1]["contribution"]
    assert ratio == pytest.approx(2.0**0.5)


def test_face_down_turns_the_sign() -> None:
    up, down = measured(), measured("--film-face", "down")
    assert up["stress"]["value"] > 0.0
    assert down["stress"]["value"] == pytest.approx(-up["stress"]["value"], rel=1e-3)


def test_a_negative_quantity_is_no_option() -> None:
    data = measured("--film-thickness-profile", "-2 %", "--origin", "-60 mm")
    assert data["inputs"]["lines"][0]["pre"]["origin"]["value"] == pytest.approx(-0.06)
    assert data["inputs"]["film"]["thickness_profile"]["value"] == pytest.approx(-0.02)


def test_plus_minus_may_be_typed_in_any_way() -> None:
    texts = ("500 nm ± 10 nm", "500 nm +/- 10 nm", "500 ± 10 nm", "500(10) nm", "0.5 um ± 2 %")
    results = [measured("--film-thickness", text)["stress"] for text in texts]
    for result in results[1:]:
        assert result["value"] == pytest.approx(results[0]["value"], rel=1e-12)
        assert result["standard_uncertainty"] == pytest.approx(
            results[0]["standard_uncertainty"], rel=1e-9
        )


def test_figure_is_written_beside_the_result(tmp_path: Any) -> None:
    file = tmp_path / "figure.svg"
    ended = run(*MEASURE, "--figure", str(file), "--json")
    assert ended.code == 0
    assert ended.data["stress"]
    assert str(file) in ended.err
    assert file.read_text(encoding="utf-8").lstrip().startswith("<?xml")
