"""The program as a process: pipes, signals, encodings, standard input."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from filmstress.measure import wafer
from tests.cli._run import FILM, MEASURE, POST, PRE, ROOT, SUBSTRATE, process, run

PROGRAM = [sys.executable, "-m", "filmstress"]
posix = pytest.mark.skipif(os.name != "posix", reason="pipes and signals of POSIX")


@pytest.mark.parametrize(
    ("arguments", "code"),
    [(("--help",), 0), (MEASURE, 0), ((*MEASURE, "--support", "clamped"), 3)],
    ids=["help", "result", "refused"],
)
@posix
def test_a_reader_that_goes_away_changes_nothing(arguments: tuple[str, ...], code: int) -> None:
    reading, writing = os.pipe()
    os.close(reading)  # gone before the first byte, as `| head` may be
    try:
        ended = subprocess.run(
            [*PROGRAM, *arguments],
            stdout=writing,
            stderr=subprocess.PIPE,
            cwd=ROOT,
            check=False,
            timeout=120,
        )
    finally:
        os.close(writing)
    assert ended.returncode == code
    assert b"Broken" not in ended.stderr
    assert b"Traceback" not in ended.stderr


@posix
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full device here")
@pytest.mark.parametrize("arguments", [("--help",), MEASURE], ids=lambda a: a[0])
def test_a_full_disk_is_said(arguments: tuple[str, ...]) -> None:
    with Path("/dev/full").open("wb") as full:
        ended = subprocess.run(
            [*PROGRAM, *arguments],
            stdout=full,
            stderr=subprocess.PIPE,
            cwd=ROOT,
            check=False,
            timeout=120,
        )
    assert ended.returncode == 3
    assert b"No space left" in ended.stderr
    assert b"Traceback" not in ended.stderr


@posix
def test_closed_streams_are_no_fault() -> None:
    command = subprocess.list2cmdline([*PROGRAM, "inspect", PRE])
    assert subprocess.run(f"{command} >&-", shell=True, cwd=ROOT, check=False).returncode == 0
    missing = subprocess.list2cmdline([*PROGRAM, "inspect", "nothere.csv"])
    assert subprocess.run(f"{missing} 2>&-", shell=True, cwd=ROOT, check=False).returncode == 3


@posix
@pytest.mark.parametrize(
    "arguments",
    [
        (*MEASURE, "--prove", "100000"),
        ("simulate", "{new}", "--repeats", "100", "--points", "400000"),
    ],
    ids=lambda arguments: arguments[0],
)
def test_an_interrupt_ends_quietly_with_130(arguments: tuple[str, ...], tmp_path: Path) -> None:
    named = [text.format(new=tmp_path / "new") for text in arguments]
    running = subprocess.Popen(
        [*PROGRAM, *named], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    time.sleep(2.5)
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=60)
    assert (running.returncode, out, err) == (130, b"", b"interrupted\n")


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252", "utf-8", "utf-16"])
def test_any_terminal_can_show_the_result(encoding: str) -> None:
    text = run(*MEASURE, encoding=encoding).out
    assert ("± " in text) == (encoding != "ascii")
    assert ("+/- " in text) == (encoding == "ascii")
    assert "\\x" not in text
    data = run(*MEASURE, "--json", encoding=encoding).data
    assert data["inputs"]["settings"]["film.thickness"] == FILM[1]
    refused = run(*MEASURE, "--window", "Å", encoding=encoding)
    assert refused.code == 3
    assert "--window" in refused.err


@posix
def test_a_file_name_that_is_no_text_can_be_named(tmp_path: Path) -> None:
    odd = os.fsdecode(os.fsencode(tmp_path) + b"/scan-\xff.csv")
    Path(odd).write_bytes(Path(PRE).read_bytes())
    for extra in ((), ("--json",), ("--csv",)):
        ended = run("inspect", odd, *extra)
        assert (ended.code, ended.err) == (0, "")
        assert "scan-" in ended.out
    assert run("inspect", odd, "--json").data["scans"][0]["file"] == odd
    assert run("inspect", odd + ".no").code == 3


def test_a_dash_is_standard_input() -> None:
    content = Path(PRE).read_bytes()
    piped = process("measure", "-", POST, *SUBSTRATE, *FILM, "--json", stdin=content)
    named = run(*MEASURE, "--json")
    assert piped.code == 0
    assert piped.data["stress"] == named.data["stress"]
    files = piped.data["inputs"]["files"]
    assert files[0]["file"] == "-"
    assert files[0]["sha256"] == named.data["inputs"]["files"][0]["sha256"]
    both = process("measure", "-", "-", *SUBSTRATE, *FILM, stdin=content)
    assert (both.code, both.out) == (3, "")
    assert "standard input" in both.err


def test_python_warnings_stay_with_developers() -> None:
    code = (
        "import sys, warnings, filmstress.cli.app as app, filmstress.measure.wafer as wafer\n"
        "real = wafer.measure_wafer\n"
        "def warn(*a, **k):\n    warnings.warn('of no use')\n    return real(*a, **k)\n"
        "wafer.measure_wafer = warn\n"
        "app.main(sys.argv[1:])\n"
    )
    ended = subprocess.run(
        [sys.executable, "-c", code, *MEASURE], cwd=ROOT, capture_output=True, check=True
    )
    assert ended.stderr == b""


def test_a_traceback_is_shown_only_to_who_asks(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*args: object, **kwargs: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(wafer, "measure_wafer", broken)
    assert run(*MEASURE).code == 4
    monkeypatch.setenv("FILMSTRESS_TRACEBACK", "1")
    with pytest.raises(ZeroDivisionError):
        run(*MEASURE)


@posix
def test_an_interrupted_lot_leaves_no_workers_talking(tmp_path: Path) -> None:
    entry = 'scans = [{{ azimuth = "0 deg", pre = "{pre}", post = "{post}" }}]\n'
    wafers = "".join(
        f'[[wafer]]\nid = "{i}"\n' + entry.format(pre=PRE, post=POST) for i in range(2000)
    )
    lot = tmp_path / "lot.toml"
    lot.write_text(
        'lot = "long"\n[substrate]\nmaterial = "Si(001)"\nthickness = "675 um ± 2 um"\n'
        '[film]\nthickness = "500 nm"\n' + wafers,
        encoding="utf-8",
    )
    running = subprocess.Popen(
        [*PROGRAM, "lot", str(lot), "--jobs", "2"],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
    )
    time.sleep(2.0)
    os.killpg(running.pid, signal.SIGINT)  # as a terminal does: to every process of the group
    out, err = running.communicate(timeout=60)
    assert (running.returncode, out, err) == (130, b"", b"interrupted\n")
