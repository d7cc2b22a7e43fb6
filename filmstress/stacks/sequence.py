"""The states of a stack file as written, and whether one can follow on another."""

from __future__ import annotations

from itertools import pairwise

from filmstress.errors import RefusedInput
from filmstress.inputs.faults import FaultList
from filmstress.inputs.names import nearest
from filmstress.stacks.layers import LayerEntry
from filmstress.stacks.scans import ScanEntry


class Entry:
    """One [[state]] as written."""

    def __init__(self, name: str, where: str) -> None:
        self.name, self.where = name, where
        self.layer: LayerEntry | None = None
        self.strips = self.changes = ""
        self.scans: list[ScanEntry] = []


def check_sequence(entries: list[Entry], faults: FaultList) -> None:
    """Names that stand twice; what a step strips or changes must then be on the wafer."""
    on_wafer: dict[str, Entry] = {}
    seen: set[str] = set()
    measured_strip = {
        entry.strips
        for before, entry in pairwise(entries)
        if entry.strips and before.scans and entry.scans
    }
    for number, entry in enumerate(entries):
        if entry.name and entry.name in seen:
            faults.add(
                RefusedInput(
                    f"two states are called '{entry.name}'",
                    where=entry.where,
                    hint="give each state a name of its own",
                )
            )
        seen.add(entry.name)
        for key in ("strips", "changes"):
            named = getattr(entry, key)
            if named and named not in on_wafer:
                there = nearest(named, on_wafer) if on_wafer else "no layer is on the wafer yet"
                faults.add(
                    RefusedInput(
                        f"no layer of the name '{named}' is on the wafer then",
                        where=f"{entry.where}, {key}",
                        hint=f"name the state that it came in; {there}",
                    )
                )
        if number == 0:
            if entry.layer or entry.strips or entry.changes:
                faults.add(
                    RefusedInput(
                        "the first state is the wafer as it came, without a layer or a strip",
                        where=entry.where,
                        hint='begin with a state of its own:  [[state]] name = "bare"',
                    )
                )
        elif not (entry.scans and entries[number - 1].scans):
            _check_told(entry, measured_strip, faults)
        on_wafer.pop(entry.strips, None)
        if entry.layer:
            on_wafer[entry.name] = entry


def _check_told(entry: Entry, measured_strip: set[str], faults: FaultList) -> None:
    """A step that is not scanned on both sides must be known by what is stated."""
    if entry.layer is not None:
        if entry.layer.lacks_stress and entry.name not in measured_strip:
            faults.add(
                RefusedInput(
                    "the layer's stress is neither measured nor stated",
                    where=entry.where,
                    hint="scan this state and the one before, or state  stress = '-300 MPa ± "
                    "15 MPa'  in the layer, or a recorded  recipe  in its place",
                )
            )
    elif not entry.strips:
        faults.add(
            RefusedInput(
                "nothing is known of what this step did",
                where=entry.where,
                hint="scan this state and the one before, or name a layer, or what it strips",
            )
        )
