"""What a stack must warn about: the warnings of its steps, and of its predictions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from filmstress.physics.deflection import reduced_curvature
from filmstress.records.notice import Notice, WarningCode
from filmstress.records.result import StressResult
from filmstress.records.stack import Known, StackSpec, StateFound

# Of the reduced curvature: above it the linear plate is off by a percent or two.
LARGE = 0.1


def warnings_of(
    stack: StackSpec,
    steps: Mapping[str, StressResult],
    found: Sequence[StateFound],
    length: float,
) -> Iterator[Notice]:
    """Each warning once, with the states that it is about unless it is about all steps."""
    about: dict[Notice, list[str]] = {}
    for name, result in steps.items():
        for notice in result.warnings:
            about.setdefault(notice, []).append(name)
    told = {notice.message for notice in about}
    for note in stack.notes:
        # The measurement of a layer's own step says the same again.
        if note not in told and note.partition(": ")[2] not in told:
            yield Notice(WarningCode.DEFAULT_USED, note)
    for notice, names in about.items():
        if len(names) == len(steps) and (len(names) > 1 or _common(notice)):
            yield notice
        else:
            yield Notice(notice.code, f"{', '.join(names)}: {notice.message}")
    for name, result in steps.items():
        if result.refusal is not None:
            yield Notice(result.refusal.code, f"{name}: {result.refusal.message}")
    yield from _on_deflection(stack, found, length)


def _common(notice: Notice) -> bool:
    return notice.code is WarningCode.DEFAULT_USED


def _on_deflection(
    stack: StackSpec, found: Sequence[StateFound], length: float
) -> Iterator[Notice]:
    diameter = stack.substrate.diameter
    if diameter is None:
        return
    for one in found:
        if one.bow is None or one.bow_known is not Known.PREDICTED:
            continue
        size = reduced_curvature(
            curvature_per_m=8.0 * one.bow.value / length**2,
            wafer_radius_m=0.5 * diameter.value,
            substrate_thickness_m=stack.substrate.thickness.value,
        )
        if abs(size) > LARGE:
            yield Notice(
                WarningCode.LARGE_DEFLECTION,
                f"{one.state.name}: the bow is predicted for a plate that bends in proportion, and "
                "this one stiffens: it will be less than told",
            )
