"""Every way to end: the exit code, what is on stdout, and what is said on stderr."""

from __future__ import annotations

from pathlib import Path

import pytest

import filmstress.measure.wafer
from filmstress.cli import exits
from filmstress.cli.program import COMMANDS, GROUPS
from filmstress.errors import (
    FilmstressError,
    InternalError,
    LotError,
    MeasurementRefused,
    QuantityError,
    ScanError,
    SubstrateError,
    UsageError,
)
from tests.cli._run import DEMO, FILM, MEASURE, NITRIDE, POST, PRE, SUBSTRATE, run


@pytest.mark.parametrize("command", ["", *COMMANDS])
@pytest.mark.parametrize("flag", ["--help", "-h"])
def test_help_is_done(command: str, flag: str) -> None:
    ended = run(*([command] if command else []), flag)
    assert (ended.code, ended.err) == (0, "")
    assert ended.out.startswith("Usage: filmstress")
    assert max(map(len, ended.out.splitlines())) <= 100


def test_help_sums_each_command_up_in_a_whole_sentence() -> None:
    told = run("--help").out.split("Commands:")[1].strip().splitlines()
    assert [line.split()[0] for line in told] == [*COMMANDS, *GROUPS]
    assert all(line.endswith(".") and "..." not in line for line in told)


def test_the_version_is_data() -> None:
    from filmstress.version import VERSION

    assert run("--version").out == f"filmstress {VERSION}\n"


WRONG_USAGE = {
    "nothing": ((), "Usage: filmstress"),
    "unknown option": (("--nonsense",), "--nonsense"),
    "unknown command": (("mesure",), "mesure"),
    "a near option": ((*MEASURE, "--substrat", "x"), "--substrate"),
    "no scans": (("measure",), "PRE"),
    "one scan": (("measure", PRE, *SUBSTRATE), "--bare-bow"),
    "no scan to inspect": (("inspect",), "SCAN"),
    "no lot": (("lot",), "LOT.toml"),
    "no folder": (("simulate",), "DIR"),
    "an option without its value": (("measure", PRE, POST, "--substrate"), "--substrate"),
    "quotes forgotten": (
        ("measure", PRE, POST, "--film-thickness", "500", "nm"),
        'quotes: --film-thickness "500 nm"',
    ),
    "an option twice": ((*MEASURE, "--film-thickness", "400 nm"), "given 2 times"),
    "no number": ((*MEASURE, "--prove", "many"), "--prove"),
    "a negative number": ((*MEASURE, "--prove", "-1"), "--prove"),
    "no noise setting": ((*MEASURE, "--noise", "loud"), "balanced, safe or sharp"),
    "no noise setting of a lot": (
        ("lot", str(NITRIDE / "lot.toml"), "--noise", "loud"),
        "balanced, safe or sharp",
    ),
    "no processes": (("lot", str(NITRIDE / "lot.toml"), "--jobs", "0"), "--jobs"),
    "no figure format": ((*MEASURE, "--figure", "x.gif"), ".png, .svg or .pdf"),
    "two forms of a scan": (("inspect", PRE, "--json", "--csv"), "exclude each other"),
    "two forms of a table": (("substrates", "--json", "--csv"), "exclude each other"),
    "two forms of a lot": (
        ("lot", str(NITRIDE / "lot.toml"), "--json", "--csv"),
        "exclude each other",
    ),
    "a direction of no cut": (("substrates", "--azimuth-reference", "[110]"), "none is named"),
    "few points": (("simulate", "x", "--points", "3"), "--points"),
}


@pytest.mark.parametrize(("arguments", "words"), WRONG_USAGE.values(), ids=WRONG_USAGE)
def test_wrong_usage_is_2_and_prints_no_data(arguments: tuple[str, ...], words: str) -> None:
    ended = run(*arguments)
    assert (ended.code, ended.out) == (exits.USAGE, "")
    assert words in ended.err


REFUSED = {
    "no substrate": (("measure", PRE, POST, *FILM), "the substrate is not named"),
    "no unit": ((*MEASURE[:-1], "500"), "'500' has no unit"),
    "a look-alike": ((*MEASURE[:-1], "1000 A"), "A = ampere"),
    "no such unit": ((*MEASURE[:-1], "500 nanos"), "nanos"),
    "an implausible size": ((*MEASURE[:-1], "500 mm"), "outside the plausible range"),
    "an empty text": ((*MEASURE[:-1], ""), "--film-thickness"),
    "no such word": ((*MEASURE, "--film-face", "left"), "up, down"),
    "no such material": (("substrates", "Unobtainium(001)"), "not in the substrate table"),
    "no such cut": (("substrates", "Si("), "Si(001)"),
    "a direction out of the cut": (
        ("substrates", "Si(001)", "--azimuth-reference", "[111]"),
        "not in the plane",
    ),
    "no such file": (("measure", "nothere.csv", POST, *SUBSTRATE), "nothere.csv: no such file"),
    "a folder": (("measure", str(DEMO), POST, *SUBSTRATE), "directory"),
    "a folder as a lot": (("lot", str(DEMO)), "folder"),
    "no such lot": (("lot", "nothere.toml"), "nothere.toml"),
    "a window beside the scan": ((*MEASURE, "--window", "100 mm..110 mm"), "0 points are left"),
    "no place for a figure": ((*MEASURE, "--figure", "/nowhere/x.png"), "cannot be written"),
    "no direction on a cut that wants one": (
        ("measure", PRE, POST, "--substrate", "Si(110)", *SUBSTRATE[2:], *FILM),
        "--azimuth-reference: Si(110)",
    ),
    "no place for scans": (("simulate", "/dev/null/x"), "cannot be written"),
    "no place for the demo": (("demo", "/dev/null/x"), "cannot be written"),
    "a truth with an uncertainty": (
        ("simulate", "x", "--stress", "200 MPa ± 5 MPa"),
        "one value is wanted",
    ),
    "no such style": (("simulate", "x", "--style", "gold"), "--style: 'gold'"),
    "a scan longer than the wafer": (("simulate", "x", "--length", "400 mm"), "--length"),
    "no mark of decimals": (("inspect", PRE, "--decimal", ";"), "--decimal"),
    "no unit of positions": (("inspect", PRE, "--position-unit", "parsec"), "parsec"),
}


@pytest.mark.parametrize(("arguments", "words"), REFUSED.values(), ids=REFUSED)
def test_refused_input_is_3_and_says_why(arguments: tuple[str, ...], words: str) -> None:
    ended = run(*arguments)
    assert (ended.code, ended.out) == (exits.REFUSED, "")
    assert words in ended.err
    assert ended.err.startswith("filmstress: ")


FILES = {
    "empty": (b"", "is empty"),
    "blank": (b"\n\n  \n", ""),
    "binary": (bytes(range(256)) * 40, "binary"),
    "words": (b"dear all,\nthe scan is late\n", "no rows of numbers"),
    "two points": (b"x,z\n0,0\n1,1\n", ""),
    "one column": (b"1\n2\n3\n4\n5\n", ""),
    "not a number": (b"x [mm],z [um]\n" + b"nan,nan\n" * 50, ""),
    "infinite": (b"x [mm],z [um]\n" + b"1e999,1e999\n" * 50, ""),
    "flat": (b"x [mm],z [um]\n" + b"".join(b"%d,0\n" % i for i in range(50)), None),
    "one place": (b"x [mm],z [um]\n" + b"5,1\n" * 50, ""),
    "not UTF-8": b"x [mm],z [\xb5m]\n" + b"".join(b"%d,%d\n" % (i, i * i) for i in range(50)),
    "one long line": (b"1," * 100_000, ""),
}


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("command", ["inspect", "measure", "lot"])
def test_no_file_is_an_internal_error(command: str, name: str, tmp_path: Path) -> None:
    content = FILES[name]
    file = tmp_path / "file.csv"
    file.write_bytes(content if isinstance(content, bytes) else content[0])
    if command == "measure":
        ended = run("measure", str(file), POST, *SUBSTRATE, *FILM)
    else:
        ended = run(command, str(file))
    words = None if isinstance(content, bytes) or command == "lot" else content[1]
    assert ended.code in {exits.DONE, exits.REFUSED}
    if words is not None:
        assert (ended.code, ended.out) == (exits.REFUSED, "")
        assert "file.csv" in ended.err
        assert words in ended.err


@pytest.mark.parametrize(
    ("extra", "code"),
    [
        (("--support", "clamped"), "clamped"),
        (("--film-faces", "both"), "both-faces"),
        (("--pre-support", "clamped"), "clamped"),
    ],
    ids=" ".join,
)
def test_a_measurement_refused_shows_what_was_found(extra: tuple[str, str], code: str) -> None:
    ended = run(*MEASURE, *extra)
    assert ended.code == exits.REFUSED
    assert ended.out.startswith("No stress is stated")
    assert "change of curvature" in ended.out
    assert "Film stress" not in ended.out
    assert f"refused, {code}: " in ended.err


def test_one_bad_scan_among_several_does_not_stop_the_others() -> None:
    ended = run("inspect", PRE, "nothere.csv", POST)
    assert ended.code == exits.REFUSED
    assert PRE in ended.out
    assert POST in ended.out
    assert ended.err.count("nothere.csv") == 1


def test_all_faults_of_a_call_are_said_at_once() -> None:
    ended = run(
        "measure", PRE, POST, "--substrate", "Si(001)", "--substrate-thickness", "675",
        "--film-thickness", "1000 A", "--film-face", "left",
    )  # fmt: skip
    assert ended.code == exits.REFUSED
    for flag in ("--substrate-thickness", "--film-thickness", "--film-face"):
        assert f"filmstress: {flag}: " in ended.err


def test_the_bare_bow_stands_in_for_the_scan_before() -> None:
    ended = run("measure", POST, *SUBSTRATE, *FILM, "--bare-bow", "0 um ± 15 um")
    assert ended.code == exits.DONE
    assert "not distinguishable from zero" in ended.out


def test_a_fault_of_our_own_is_one_line_and_4(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*args: object, **kwargs: object) -> None:
        raise ZeroDivisionError("a fault\nof our own")

    monkeypatch.setattr(filmstress.measure.wafer, "measure_wafer", broken)
    ended = run(*MEASURE)
    assert (ended.code, ended.out) == (exits.INTERNAL, "")
    assert ended.err.count("\n") == 1
    assert "ZeroDivisionError: a fault of our own" in ended.err
    assert "report" in ended.err


def test_a_fault_of_our_own_in_one_wafer_of_a_lot_is_4(monkeypatch: pytest.MonkeyPatch) -> None:
    import filmstress.lots.batch

    def broken(*args: object, **kwargs: object) -> None:
        raise KeyError("nothing")

    monkeypatch.setattr(filmstress.lots.batch, "measure_wafer", broken)
    ended = run("lot", str(NITRIDE / "lot.toml"))
    assert (ended.code, ended.out) == (exits.INTERNAL, "")
    assert ended.err.count("\n") == 1
    assert "wafer 01" in ended.err


def test_an_interrupt_is_130(monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*args: object, **kwargs: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(filmstress.measure.wafer, "measure_wafer", stopped)
    ended = run(*MEASURE)
    assert (ended.code, ended.out, ended.err) == (exits.INTERRUPTED, "", "interrupted\n")


@pytest.mark.parametrize("trouble", [OSError(28, "No space left on device"), MemoryError()])
def test_a_machine_at_its_end_is_not_our_fault(
    monkeypatch: pytest.MonkeyPatch, trouble: Exception
) -> None:
    def full(*args: object, **kwargs: object) -> None:
        raise trouble

    monkeypatch.setattr(filmstress.measure.wafer, "measure_wafer", full)
    ended = run(*MEASURE)
    assert (ended.code, ended.out) == (exits.REFUSED, "")
    assert "the system refused" in ended.err


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (UsageError("x"), 2),
        (QuantityError("x"), 3),
        (SubstrateError("x"), 3),
        (ScanError("x"), 3),
        (LotError("x"), 3),
        (MeasurementRefused("x", code="clamped"), 3),
        (InternalError("x"), 4),
        (FilmstressError("x"), 4),
    ],
    ids=lambda value: type(value).__name__,
)
def test_every_error_of_the_tree_has_its_code(error: FilmstressError, code: int) -> None:
    assert exits.code_of(error) == code
