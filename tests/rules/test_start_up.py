"""Start-up is a feature: what a command loads before it works is held here, not its seconds."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def loaded_by(*arguments: str) -> set[str]:
    """Modules that a run of the program has loaded when it ends."""
    code = (
        "import sys\n"
        "from filmstress.cli.app import main\n"
        "try:\n    main(sys.argv[1:])\n"
        "except SystemExit as end:\n    assert not end.code, end.code\n"
        "print('\\n'.join(sys.modules), file=sys.stderr)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert run.returncode == 0, run.stderr
    return set(run.stderr.split("\n"))


@pytest.mark.parametrize(
    "arguments",
    [("--help",), ("--version",), ("measure", "--help"), ("lot", "--help")],
    ids=" ".join,
)
def test_help_loads_no_numbers(arguments: tuple[str, ...]) -> None:
    heavy = {"numpy", "scipy", "pint", "matplotlib", "pydantic", "rich"}
    assert not heavy & loaded_by(*arguments)


def test_inspect_and_measure_load_no_scipy_and_draw_nothing(demo_pair: tuple[str, str]) -> None:
    heavy = {"scipy", "pint", "matplotlib", "pydantic", "rich", "asyncio"}
    heavy.add("filmstress.scans.reading.x3p.reading")  # for a file of text
    assert not heavy & loaded_by("inspect", demo_pair[0])
    stated = ["--substrate", "Si(001)", "--substrate-thickness", "675 um ± 2 um"]
    assert not heavy & loaded_by("measure", *demo_pair, *stated)


def test_importing_the_package_loads_nothing() -> None:
    code = "import sys, filmstress; print('numpy' in sys.modules, 'typer' in sys.modules)"
    run = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert run.stdout.split() == ["False", "False"]
