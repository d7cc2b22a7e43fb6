"""Film thickness from steps for readers: words, JSON, table."""

from __future__ import annotations

from collections.abc import Iterator

from filmstress.records.step import FilmThickness, Part, Step, StepKind, SteppedScan
from filmstress.report.budget_data import budget_data
from filmstress.report.columns import columns
from filmstress.report.fit_data import source_data
from filmstress.report.quantities import (
    Data,
    bare_data,
    headed,
    measured_data,
    notices_data,
    quantity_data,
    values_data,
)
from filmstress.report.text import WIDTH, budget_lines, notice_lines, row, source_lines, wrapped
from filmstress.report.words import say_coverage, say_estimate, say_value, say_values
from filmstress.stats.coverage import estimate

TABLE_HEADS = (
    "file",
    "step",
    "kind",
    "left_edge [m]",
    "right_edge [m]",
    "thickness [m]",
    "thickness_u [m]",
    "degrees_of_freedom",
    "other_levelling [m]",
    "points",
    "masked",
    "method",
)

_SIDES = {
    "low": "the lower level",
    "high": "the higher level: numbers grow into the surface",
    "left": "left of the first edge",
    "right": "right of the first edge",
}


def method(step: Step, *, straight: bool) -> str:
    """By which parts and which line a step was read."""
    if step.kind is StepKind.EDGE:
        parts = "one edge"
    else:
        parts = "ISO 5436-1 A1" if step.full else "ISO 5436-1 A1, cut short"
    return f"{parts}, {'straight line' if straight else 'parabola'}"


def part_name(part: Part) -> str:
    """What lies in a part."""
    return "film" if part.on_film else "substrate"


def thickness_data(found: FilmThickness, version: str) -> Data:
    """Everything as plain data."""
    return {
        **headed("thickness", version),
        "inputs": {
            "files": [source_data(one.scan.source) for one in found.scans],
            "reference": found.reference.value,
            "levelling": "straight" if found.straight else "parabola",
            "noise_setting": found.noise_setting,
            "height_scale": measured_data(found.height_scale),
            "edges": [values_data(one.edges, "m") if one.stated else None for one in found.scans],
        },
        "thickness": quantity_data(found.thickness),
        "steps": [
            _step_data(one, step, number, straight=found.straight)
            for one in found.scans
            for number, step in enumerate(one.steps, start=1)
        ],
        "budget": budget_data(found.budget),
        "warnings": notices_data(found.warnings),
    }


def _step_data(one: SteppedScan, step: Step, number: int, *, straight: bool) -> Data:
    return {
        "file": one.scan.source.path,
        "step": number,
        "kind": step.kind.value,
        "method": method(step, straight=straight),
        "edges": values_data(step.edges, "m"),
        "width": bare_data(step.width, "m"),
        "thickness": quantity_data(estimate(step.thickness, "m", u=step.u, dof=step.dof)),
        "thickness_other_levelling": bare_data(step.other_thickness, "m"),
        "bow_over_window": bare_data(step.bow, "m"),
        "tilt": bare_data(step.tilt, "1"),
        "parts": [
            {"on": part_name(part), "from_to": values_data((part.low, part.high), "m")}
            for part in step.parts
        ],
        "points_used": step.points,
        "points_masked": step.masked,
        "residual_rms": bare_data(step.residual_rms, "m"),
    }


def table_rows(found: FilmThickness) -> Iterator[tuple[object, ...]]:
    """Every step under :data:`TABLE_HEADS`; ``thickness_u`` is by the residuals alone."""
    for one in found.scans:
        for number, step in enumerate(one.steps, start=1):
            yield (
                one.scan.source.path,
                number,
                step.kind.value,
                step.edges[0],
                step.edges[1] if len(step.edges) > 1 else None,
                step.thickness,
                step.u,
                step.dof,
                step.other_thickness,
                step.points,
                step.masked,
                method(step, straight=found.straight),
            )


def thickness_text(found: FilmThickness) -> str:
    """Everything for a terminal."""
    blocks = [
        list(_head(found)),
        list(_steps(found)),
        list(_sources(found)),
        list(budget_lines(found.budget, "m")),
        list(notice_lines(found.warnings)),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def counted_steps(found: FilmThickness) -> str:
    """``4 steps in 2 files``."""
    steps, files = sum(len(one.steps) for one in found.scans), len(found.scans)
    told = f"{steps} step{'' if steps == 1 else 's'}"
    return told if files == 1 else f"{told} in {files} files"


def _head(found: FilmThickness) -> Iterator[str]:
    yield f"Film thickness {say_estimate(found.thickness)}"
    yield f"  {say_coverage(found.thickness)}; {counted_steps(found)}"
    yield row("substrate", _SIDES[found.reference.value])
    line = "a straight line, as in ISO 5436-1" if found.straight else "a parabola"
    yield row("both levels share", line)


def _steps(found: FilmThickness) -> Iterator[str]:
    other = "with a parabola" if found.straight else "straight line"
    heads = ("file", "step", "kind", "edges", "thickness, noise alone", other, "points", "read by")
    rows = [heads]
    for file, one in enumerate(found.scans, start=1):
        for number, step in enumerate(one.steps, start=1):
            own = estimate(step.thickness, "m", u=step.u, dof=step.dof)
            masked = f" ({step.masked} masked)" if step.masked else ""
            rows.append(
                (
                    f"{file}",
                    f"{number}",
                    step.kind.value,
                    " to ".join(say_values(step.edges, "m")),
                    say_estimate(own),
                    say_value(step.other_thickness, "m"),
                    f"{step.points}{masked}",
                    method(step, straight=found.straight).partition(", ")[0]
                    + ("" if step.full or step.kind is StepKind.EDGE else ", cut short"),
                )
            )
    yield "Steps (± at 95 % by each one's residuals)"
    yield from columns(rows, right=(0, 1, 6), gap=2)
    if any(step.kind is StepKind.EDGE for one in found.scans for step in one.steps):
        yield from wrapped(
            "Where the film ends once there is no type A1: both sides are used from a third of the "
            "shorter one's length to all of it, beyond the edge.",
            "  one edge: ",
            WIDTH,
        )


def _sources(found: FilmThickness) -> Iterator[str]:
    yield "Data"
    for number, one in enumerate(found.scans, start=1):
        yield from source_lines(f"file {number}", one.scan.source)
        yield row("", f"sha256 {one.scan.source.sha256}")
