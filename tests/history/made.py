"""Small lots to keep."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from filmstress.history.entry import kept_lot
from filmstress.records.history import KeptLot


def quantity(value: float, unit: str, u: float | None = None, dof: float | None = None) -> Any:
    """A quantity as the program's JSON has it, as far as the history reads it."""
    return {"value": value, "unit": unit, "standard_uncertainty": u, "degrees_of_freedom": dof}


def document(
    lot: str = "A1",
    recipe: str = "nitride",
    *,
    stresses: tuple[float, ...] = (-200e6, -210e6),
    date: str = "2026-03-14",
    tool: str = "PX-2",
    pressure: float = 0.6,
) -> dict[str, Any]:
    """A lot's result as ``lot --json`` gives it, as far as the history reads it."""
    row = {
        "input": "height scale",
        "value": 1.0,
        "unit": "1",
        "standard_uncertainty": 0.005,
        "sensitivity": -2e8,
        "contribution": 1e6,
        "share": 1.0,
        "evaluation": "B",
        "common_to": "gauge",
        "distribution": "normal",
        "degrees_of_freedom": None,
        "uncertainty_source": "default",
    }
    own = row | {"input": "substrate thickness", "common_to": "wafer 1", "unit": "m"}
    return {
        "schema": "filmstress/lot/1",
        "filmstress": "0.1.0",
        "lot": lot,
        "recipe": recipe,
        "inputs": {
            "deposition": {
                "tool": tool,
                "date": date,
                "pressure": f"{pressure} Pa",
                "gas": "argon",
            },
            "deposition_quantities": {"pressure": quantity(pressure, "Pa")},
            "specification": {"lower": quantity(-250e6, "Pa"), "upper": None},
        },
        "decision": "accepted",
        "reason": "every wafer conforms",
        "wafers": [
            {
                "id": f"{number}",
                "inputs": {"role": "product", "film": {"thickness": quantity(5e-7, "m", 5e-9)}},
                "stress": quantity(stress, "Pa", 1e6, 37.5),
                "force_per_width": quantity(stress * 5e-7, "N/m", 0.5),
                "budget": [row, own],
                "refusal": None,
                "conformance_probability": 0.99,
            }
            for number, stress in enumerate(stresses, start=1)
        ],
    }


def record(number: int = 1, **told: Any) -> dict[str, Any]:
    """A record of such a lot; its hash here is only a name."""
    results = document(**told)
    sha256 = hashlib.sha256(json.dumps([number, results]).encode()).hexdigest()
    time = f"2026-04-01T09:{number // 60 % 60:02d}:{number % 60:02d}Z"
    return {
        "schema": "filmstress/record/1",
        "time": time,
        "results": results,
        "sha256": sha256,
    }


def lot(number: int = 1, **told: Any) -> KeptLot:
    """A lot to keep."""
    made = record(number, **told)
    return kept_lot(made["results"], recorded_at=made["time"], record_sha256=made["sha256"])
