"""Stack files for tests, and stacks whose scans are drawn in memory."""

from __future__ import annotations

from pathlib import Path

from filmstress.records.scan import Scan
from filmstress.records.stack import StackResult, StackSpec
from filmstress.stacks.measuring import measure_stack
from filmstress.stacks.reading import stack_of_text

HEAD = """\
[substrate]
material = "Si(001)"
thickness = "675 um (exact)"
[scan]
length = "120 mm"
"""


def spec(body: str, head: str = HEAD) -> StackSpec:
    return stack_of_text(head + body, path=Path("stack.toml"))


def found(body: str, head: str = HEAD, scans: dict[str, Scan] | None = None) -> StackResult:
    """A stack measured, from scans by the name of their file."""

    def read(path: str, *_: object, **__: object) -> Scan:
        assert scans is not None
        return scans[Path(path).name]

    return measure_stack(spec(body, head), read=read)  # type: ignore[arg-type]


def state(name: str, rest: str = "") -> str:
    return f'[[state]]\nname = "{name}"\n{rest}\n'


def layer(stress: str, thickness: str, face: str = "up", more: str = "") -> str:
    told = f'stress = "{stress}", ' if stress else ""
    return f'layer = {{ {told}thickness = "{thickness}", face = "{face}"{more} }}'
