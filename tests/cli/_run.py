"""Running the program: inside this process, which is quick, or as a process of its own."""

from __future__ import annotations

import contextlib
import io
import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from filmstress.cli import app

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "data" / "demo"
NITRIDE = DEMO / "N24-03"
PRE, POST = str(NITRIDE / "pre" / "01-000.csv"), str(NITRIDE / "post" / "01-000.csv")

SUBSTRATE = ("--substrate", "Si(001)", "--substrate-thickness", "675 um ± 2 um")
FILM = ("--film-thickness", "500 nm ± 2 %")
MEASURE = ("measure", PRE, POST, *SUBSTRATE, *FILM)


@dataclass(frozen=True)
class Ended:
    """How a run ended: exit code, data, words."""

    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        """The JSON object on stdout; a number that JSON does not know is an error."""

        def never(word: str) -> None:
            raise AssertionError(f"{word} in JSON")

        return json.loads(self.out, parse_constant=never)


class _Stream(io.TextIOWrapper):
    def __init__(self, encoding: str) -> None:
        super().__init__(io.BytesIO(), encoding=encoding, newline="")

    def text(self) -> str:
        self.flush()
        return self.buffer.getvalue().decode(self.encoding)  # type: ignore[attr-defined]


def run(*arguments: str, encoding: str = "utf-8") -> Ended:
    """Run the program in this process, on a terminal of this encoding."""
    out, err = _Stream(encoding), _Stream(encoding)
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = app.run(list(arguments))
    ended = Ended(code, out.text(), err.text())
    assert "Traceback" not in ended.out + ended.err
    return ended


def process(
    *arguments: str, stdin: bytes = b"", cwd: Path = ROOT, environment: dict[str, str] | None = None
) -> Ended:
    """Run the program as a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "filmstress", *arguments],
        input=stdin,
        cwd=cwd,
        env=os.environ | {"PYTHONPATH": str(ROOT)} | (environment or {}),
        capture_output=True,
        check=False,
        timeout=300,
    )
    ended = Ended(done.returncode, done.stdout.decode(), done.stderr.decode())
    assert "Traceback" not in ended.out + ended.err
    return ended
