"""The program as it is put together: one command, one file, loaded only where it is named."""

from __future__ import annotations

import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

from filmstress.cli.program import COMMANDS
from filmstress.measure.wafer import measure_film
from tests.benchmarks import plain_script
from tests.benchmarks.speed import SETTINGS, write_pair
from tests.cli._run import ROOT, run


@pytest.mark.parametrize("name", COMMANDS)
def test_each_command_has_its_file_and_its_words(name: str) -> None:
    function = getattr(import_module(f"filmstress.cli.{name}"), name)
    told = " ".join(run(name, "--help").out.split())
    first = function.__doc__.strip().split("\n")[0]
    assert first in told
    assert told.startswith(f"Usage: filmstress {name} ")


@pytest.mark.parametrize(
    ("arguments", "loaded"),
    [("--help", set()), ("--version", set()), ("demo --help", {"demo"}), ("lot -h", {"lot"})],
)
def test_only_the_command_that_is_named_is_loaded(arguments: str, loaded: set[str]) -> None:
    code = (
        "import sys, filmstress.cli.app as app\n"
        "app.run(sys.argv[1:])\n"
        "print(*sys.modules, file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments.split()],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    modules = set(done.stderr.split())
    assert {name for name in COMMANDS if f"filmstress.cli.{name}" in modules} == loaded
    assert not any(name.startswith("filmstress.inputs") for name in modules)


def test_a_plain_script_finds_the_same_stress(tmp_path: Path) -> None:
    pre, post = write_pair(tmp_path, points=2000)
    ours = measure_film(pre, post, **SETTINGS).stress_stoney
    plain = plain_script.stress_mpa(pre, post)
    assert ours is not None
    # The script's modulus and placement are cruder, and its uncertainty covers only the inputs.
    assert ours.value / 1e6 == pytest.approx(plain.n, rel=5e-3)
    assert ours.u == pytest.approx(plain.s * 1e6, rel=0.3)
