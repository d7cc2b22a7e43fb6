"""Files and options made to take for ever, or the whole memory: 5 s and 100 MB are the most."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest

from tests.cli._run import FILM, POST, PRE, SUBSTRATE, Ended, run
from tests.fuzzing.doors import DOORS
from tests.fuzzing.hostile import FILES, of_one
from tests.fuzzing.judging import MOST_GROWTH_MB, MOST_SECONDS, fault_of, watched
from tests.fuzzing.seeds import lay_out, seed_of


def check(ended: Ended) -> None:
    assert not fault_of(ended)
    assert len(ended.err) < 2_000_000


# Those that once took long; all tokens are in ``tests.benchmarks.fuzz --hostile``.
SOME = [one for token in ("a[", " ", "1,", "a.") for one in of_one(token)]


@pytest.mark.parametrize(("wanted", "text"), FILES + SOME, ids=range(len(FILES + SOME)))
def test_no_file_of_100_kb_takes_long_or_much(wanted: str, text: str, tmp_path: Path) -> None:
    one = seed_of(wanted)
    place = lay_out(one, tmp_path)
    place.write_bytes(one.pack(text.encode()))
    with watched() as cost:
        for ended in DOORS[one.door].runs(place):
            check(ended)
    assert cost.seconds < MOST_SECONDS
    assert cost.growth_mb < MOST_GROWTH_MB


@pytest.mark.parametrize("inner", [b"0", b"0,1\n", b"1.000,2.000\n", b" "])
def test_no_packed_file_fills_the_memory(inner: bytes, tmp_path: Path) -> None:
    packed = gzip.compress(inner * ((80 << 20) // len(inner)), 9)
    assert len(packed) < 250_000
    file = tmp_path / "scan.csv.gz"
    file.write_bytes(packed)
    with watched() as cost:
        ended = run("inspect", str(file))
    assert ended.code == 3
    assert cost.seconds < MOST_SECONDS
    assert cost.growth_mb < MOST_GROWTH_MB


MEASURE = ("measure", PRE, POST, *SUBSTRATE, *FILM)


@pytest.mark.parametrize(
    "words",
    [
        (*MEASURE, "--prove", "1000000000"),
        (*MEASURE, "--prove", "9" * 4000),
        (*MEASURE, "--seed", "9" * 4000, "--monte-carlo"),
        (*MEASURE, "--window", "1e-300 mm..1e300 mm"),
        (*MEASURE, "--film-thickness", "1" * 100_000 + " nm"),
        (*MEASURE, "--substrate", "Si(" + "1" * 90 + ")"),
        (*MEASURE, "--substrate", "Si(" + "9 " * 30 + ")"),
        ("substrates", "Si(" + "1 " * 100_000 + ")"),
        ("substrates", "sapphire(" + " " * 100_000 + "x)"),
        ("substrates", "Si(110)", "--azimuth-reference", "[" + "9" * 100_000 + " 1 1]"),
        ("inspect", PRE, "--columns", "1" * 100_000),
        ("inspect", PRE, "--interval", "1e-300 m"),
        ("lot", str(Path(PRE).parents[1] / "lot.toml"), "--check", "--jobs", "1000000000"),
        ("simulate", "/nowhere/x", "--points", "1000000000"),
        ("simulate", "/nowhere/x", "--points", "9" * 4000),
        ("simulate", "/nowhere/x", "--repeats", "1000000000"),
        ("simulate", "/nowhere/x", "--dust", "1000000000"),
        ("simulate", "/nowhere/x", "--dropouts", "1000000000"),
        ("plan", "--wafers", "1000000000"),
        ("plan", "--points", "1000000000"),
        ("plan", "--trials", "1000000000"),
        ("history", "lots", "--last", "9" * 4000),
        ("chart", "nitride", "--last", "1" * 400),
        ("chart", "nitride", "--baseline", "9" * 4000),
    ],
    ids=lambda words: " ".join(words)[-60:],
)
def test_no_option_takes_long_or_much(words: tuple[str, ...]) -> None:
    with watched() as cost:
        ended = run(*words)
    assert ended.code in {0, 1, 2, 3}, ended.err
    assert len(ended.err) < 10_000
    assert cost.seconds < MOST_SECONDS
    assert cost.growth_mb < MOST_GROWTH_MB
