"""Lots of the history against one of their process parameters."""

from __future__ import annotations

from filmstress.errors import HistoryError
from filmstress.history.questions import Choice, lots, recipes, wafers
from filmstress.history.selecting import read_selection, selected
from filmstress.history.store import History
from filmstress.records.comparison import Sweep


def sweep(history: History, text: str, parameter: str, within: Choice) -> Sweep:
    """Mean stress of each lot of a selection beside its setting of one parameter.

    Raises
    ------
    HistoryError
        No lot with a stress states the parameter as a number, or lots state it in units of
        different kinds.
    """
    choice = read_selection(text, [name for name, *_ in recipes(history)], within)
    found = lots(history, choice)
    if not found:
        raise HistoryError(
            f"'{text}' fits no lot", where=history.place, hint="filmstress history recipes"
        )
    told = {
        lot.number: one
        for lot in found
        for one in lot.lot.parameters
        if one.name == parameter and one.value is not None
    }
    units = sorted({one.unit for one in told.values()})
    if len(units) > 1:
        raise HistoryError(
            f"'{parameter}' is stated in {' and in '.join(unit or 'no unit' for unit in units)}",
            where=history.place,
            hint="correct the lots that are wrong: filmstress history correct",
        )
    rows = [row for row in wafers(history, choice, with_terms=True) if row.number in told]
    stress = selected(text, rows, "lot")
    if not stress.entries:
        names = sorted({p.name for lot in found for p in lot.lot.parameters if p.value is not None})
        raise HistoryError(
            f"no lot of '{text}' with a stress states '{parameter}' as a number",
            where="--parameter",
            hint=f"they state: {', '.join(names) or 'none'}",
        )
    return Sweep(
        stress=stress,
        parameter=parameter,
        unit=units[0],
        settings=tuple(told[entry].value or 0.0 for entry in stress.entries),
        without=len(found) - len(stress.entries),
    )
