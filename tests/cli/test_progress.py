"""How far a long run is: on a terminal only, on one line, and wiped at the end."""

from __future__ import annotations

import io
import os
import pty
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from filmstress.cli import progress as module
from filmstress.cli.progress import progress, said
from tests.cli._run import ROOT, run
from tests.lots.test_running import gone
from tests.lots.writing import write_lot

posix = pytest.mark.skipif(os.name != "posix", reason="terminals and signals of POSIX")


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("done", "total", "seconds", "words"),
    [
        (0, 300, 0.0, f"measuring  {'.' * 30}  0 of 300 wafers"),
        (150, 300, 10.0, f"measuring  {'=' * 15}{'.' * 15}  150 of 300 wafers, about 10 s left"),
        (9, 999, 50.0, f"measuring  {'.' * 30}  9 of 999 wafers, about 1.5 h left"),
        (9, 909, 50.0, f"measuring  {'.' * 30}  9 of 909 wafers, about 83 min left"),
        (9, 9009, 36.0, f"measuring  {'.' * 30}  9 of 9009 wafers, about 10.0 h left"),
        (8, 9009, 36.0, f"measuring  {'.' * 30}  8 of 9009 wafers"),
        (300, 300, 10.0, f"measuring  {'=' * 30}  300 of 300 wafers"),
        (0, 0, 0.0, f"measuring  {'=' * 30}  0 of 0 wafers"),
    ],
)
def test_the_line(done: int, total: int, seconds: float, words: str) -> None:
    assert said("measuring", "wafers", done, total, seconds) == words


def test_a_terminal_sees_one_line_that_is_wiped(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(module, "_PATIENCE", 0.0)
    monkeypatch.setattr(module, "_EVERY", 0.0)
    with progress("wafers") as tell:
        assert tell is not None
        for done in range(4):
            tell("measuring", done, 3)
    text = terminal.getvalue()
    assert "\n" not in text
    assert "2 of 3 wafers" in text
    # What was drawn last is overwritten by blanks.
    *_, last, blanks, end = text.split("\r")
    assert (blanks.strip(), end) == ("", "")
    assert len(blanks) >= len(last.rstrip())


def test_a_short_run_shows_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setenv("TERM", "xterm")
    with progress("wafers") as tell:
        assert tell is not None
        tell("measuring", 1, 1)
    assert terminal.getvalue() == ""


@pytest.mark.parametrize("term", ["dumb", None])
def test_nobody_watches(monkeypatch: pytest.MonkeyPatch, term: str | None) -> None:
    monkeypatch.setattr(sys, "stderr", Terminal() if term else io.StringIO())
    monkeypatch.setenv("TERM", term or "xterm")
    with progress("wafers") as tell:
        assert tell is None


def test_a_pipe_stays_quiet(tmp_path: Path) -> None:
    path = write_lot(tmp_path, {f"{i:02}": 200e6 for i in range(3)})
    assert run("lot", str(path), "--jobs", "2").err == ""


def _children(pid: int) -> list[int]:
    return [int(one) for one in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


@posix
@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks at processes of Linux")
def test_an_interrupt_at_a_terminal(tmp_path: Path) -> None:
    """130, one line, no worker left, and nothing half written."""
    path = write_lot(tmp_path, {f"{i:02}": 200e6 for i in range(4)})
    head, *entries = path.read_text(encoding="utf-8").split("[[wafer]]\n")
    many = [entry.replace('id = "0', f'id = "{i}-') for i in range(1000) for entry in entries]
    path.write_text("[[wafer]]\n".join([head, *many]), encoding="utf-8")
    before = set(tmp_path.rglob("*"))
    ours, theirs = pty.openpty()
    running = subprocess.Popen(
        [sys.executable, "-m", "filmstress", "lot", str(path), "--jobs", "2", "--record"],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=theirs,
        env=os.environ | {"TERM": "xterm", "FILMSTRESS_HISTORY": str(tmp_path / "history.sqlite")},
        start_new_session=True,
    )
    os.close(theirs)
    seen = b""
    while b" wafers" not in seen:
        seen += os.read(ours, 4096)
    workers = _children(running.pid)
    assert len(workers) == 2
    os.killpg(running.pid, signal.SIGINT)  # as a terminal does: to every process of the group
    start = time.monotonic()
    out, _ = running.communicate(timeout=60)
    assert time.monotonic() - start < 20.0
    while True:
        try:
            more = os.read(ours, 4096)
        except OSError:  # how Linux says that the other end is closed
            break
        if not more:
            break
        seen += more
    os.close(ours)
    assert (running.returncode, out) == (130, b"")
    assert b"measuring  " in seen
    last = seen.decode().split("\r")
    assert "".join(last[-3:]).strip() == "interrupted"
    assert all(gone(pid) for pid in workers)
    made = {path.name for path in tmp_path.rglob("*") if path not in before and path.is_file()}
    # The folder of records and the history are made ready before anything is measured.
    assert made <= {".lock", "history.sqlite"}
