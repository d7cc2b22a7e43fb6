"""The history for readers: lists of lots, wafers and recipes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from filmstress.records.history import Found, FoundLot
from filmstress.records.quantity import Estimate
from filmstress.report.columns import columns
from filmstress.report.quantities import Data, bare_data, headed, number, quantity_data
from filmstress.report.text import WIDTH, wrapped
from filmstress.report.words import say_estimate
from filmstress.stats.coverage import estimate

WAFER_HEADS = (
    "entry",
    "at",
    "recipe",
    "lot",
    "wafer",
    "tool",
    "stress [Pa]",
    "standard_uncertainty [Pa]",
    "degrees_of_freedom",
    "force_per_width [N/m]",
    "film_thickness [m]",
    "conformance_probability",
    "refusal",
    "role",
    "superseded",
)
LOT_HEADS = (
    "entry",
    "at",
    "recipe",
    "lot",
    "tool",
    "wafers",
    "decision",
    "corrects",
    "corrected_by",
    "why",
    "record_sha256",
)
RECIPE_HEADS = ("recipe", "lots", "first", "last")


def wafer_rows(found: Sequence[Found]) -> Iterator[tuple[object, ...]]:
    """One row a wafer under `WAFER_HEADS`."""
    for one in found:
        wafer = one.wafer
        yield (
            one.number,
            one.at,
            one.recipe,
            one.lot,
            wafer.wafer,
            one.tool,
            wafer.stress,
            wafer.stress_u,
            number(wafer.stress_dof),
            wafer.force,
            wafer.film_thickness,
            wafer.conformance,
            wafer.refusal,
            wafer.role,
            one.superseded,
        )


def lot_rows(found: Sequence[FoundLot]) -> Iterator[tuple[object, ...]]:
    """One row a lot under `LOT_HEADS`."""
    for one in found:
        lot = one.lot
        yield (
            one.number,
            lot.at,
            lot.recipe,
            lot.lot,
            lot.tool,
            one.wafers,
            lot.decision,
            one.supersedes,
            one.superseded_by,
            one.why,
            lot.record_sha256,
        )


def stress_of(found: Found) -> Estimate | None:
    """A wafer's stress with its 95 % interval."""
    wafer = found.wafer
    if wafer.stress is None:
        return None
    return estimate(wafer.stress, "Pa", u=wafer.stress_u, dof=wafer.stress_dof)


def wafers_data(found: Sequence[Found], version: str) -> Data:
    """Wafers as one JSON object."""
    return {
        **headed("history-wafers", version),
        "wafers": [
            {
                "entry": one.number,
                "at": one.at,
                "recipe": one.recipe,
                "lot": one.lot,
                "wafer": one.wafer.wafer,
                "tool": one.tool,
                "role": one.wafer.role,
                "stress": quantity_data(stress_of(one)),
                "force_per_width": bare_data(one.wafer.force, "N/m"),
                "film_thickness": bare_data(one.wafer.film_thickness, "m"),
                "conformance_probability": number(one.wafer.conformance),
                "refusal": one.wafer.refusal or None,
                "superseded": one.superseded,
            }
            for one in found
        ],
        "warnings": [],
    }


def lots_data(found: Sequence[FoundLot], version: str) -> Data:
    """Lots as one JSON object."""
    return {
        **headed("history-lots", version),
        "lots": [
            {
                **dict(zip(LOT_HEADS, row, strict=True)),
                "parameters": {
                    parameter.name: {
                        "text": parameter.text,
                        "quantity": bare_data(parameter.value, parameter.unit or "1"),
                    }
                    for parameter in one.lot.parameters
                },
            }
            for one, row in zip(found, lot_rows(found), strict=True)
        ],
        "warnings": [],
    }


def wafers_text(found: Sequence[Found]) -> str:
    """Wafers for a terminal."""
    if not found:
        return "No wafer fits."
    heads = ("entry", "at", "recipe", "lot", "wafer", "stress (U at 95 %)")
    return "\n".join(columns([heads, *map(_wafer_cells, found)], lead=""))


def _wafer_cells(one: Found) -> tuple[str, ...]:
    stress = stress_of(one)
    told = say_estimate(stress, sign=True) if stress else f"refused: {one.wafer.refusal}"
    if stress is None and not one.wafer.refusal:
        told = "no stress: the film's thickness was not stated"
    if one.superseded:
        told += "  (corrected since)"
    return (str(one.number), one.at, one.recipe, one.lot, one.wafer.wafer, told)


def lots_text(found: Sequence[FoundLot]) -> str:
    """Lots for a terminal."""
    if not found:
        return "No lot fits."
    heads = ("entry", "at", "recipe", "lot", "tool", "wafers", "decision")
    lines = list(columns([heads, *map(_lot_cells, found)], lead=""))
    for one in found:
        if one.supersedes is not None:
            told = f"entry {one.number} corrects entry {one.supersedes}: {one.why}"
            lines += ["", *wrapped(told, "  ", WIDTH)]
    return "\n".join(lines)


def _lot_cells(one: FoundLot) -> tuple[str, ...]:
    lot = one.lot
    decision = lot.decision or "none asked"
    if one.superseded_by is not None:
        decision += f"  (corrected by entry {one.superseded_by})"
    return (str(one.number), lot.at, lot.recipe, lot.lot, lot.tool, str(one.wafers), decision)


def recipes_text(found: Sequence[tuple[str, int, str, str]]) -> str:
    """Recipes for a terminal."""
    if not found:
        return "No recipe yet."
    rows = [(name or "(none)", str(lots), first, last) for name, lots, first, last in found]
    return "\n".join(columns([RECIPE_HEADS, *rows], lead=""))
