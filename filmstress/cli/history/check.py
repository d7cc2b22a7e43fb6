"""``filmstress history check``."""

from __future__ import annotations

import typer

from filmstress.cli import exits
from filmstress.cli.checks import Json
from filmstress.cli.history.options import Place, opened
from filmstress.cli.output import show, show_json


def check(place: Place = None, json: Json = False) -> None:
    """Read the whole history and say whether it is sound; exit code 1 where it is not."""
    from filmstress.history import upkeep
    from filmstress.report.quantities import headed
    from filmstress.version import VERSION

    with opened(place) as history:
        health, stands = upkeep.check(history), history.place
    if json:
        told = {
            "history": stands,
            "schema_step": health.step,
            "lots": health.lots,
            "wafers": health.wafers,
            "faults": list(health.faults),
        }
        show_json({**headed("history-check", VERSION), **told, "warnings": []})
    else:
        sound = "sound" if not health.faults else "NOT SOUND"
        lines = [f"{stands}: {sound}; {health.lots} lots, {health.wafers} wafers"]
        show("\n".join([*lines, *(f"  {fault}" for fault in health.faults)]))
    if health.faults:
        raise typer.Exit(exits.NOT_ACCEPTED)
