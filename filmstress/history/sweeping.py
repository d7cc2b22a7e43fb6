"""Lots of the history against one of their process parameters."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from filmstress.errors import FilmstressError, HistoryError, QuantityError
from filmstress.history.counting import counted_wafers
from filmstress.history.questions import Choice, lots, recipes
from filmstress.history.selecting import read_selection, selected
from filmstress.history.store import History
from filmstress.records.comparison import Sweep
from filmstress.records.history import KeptParameter
from filmstress.units.dimensions import DIMENSIONS
from filmstress.units.grammar import parse
from filmstress.units.spelling import canonical
from filmstress.units.words import convert


def sweep(
    history: History, text: str, parameter: str, within: Choice, *, shown_in: str = ""
) -> Sweep:
    """Mean stress of each lot of a selection beside its setting of one parameter.

    Parameters
    ----------
    history : History
    text : str
        A selection, as `filmstress.history.selecting.read_selection` takes it.
    parameter : str
    within : Choice
    shown_in : str
        Unit word in which settings are to be shown; by default the one that most lots state.

    Raises
    ------
    HistoryError
        No lot with a stress states the parameter as a number, or lots state it in units of
        different kinds.
    QuantityError
        The word to show settings in is no unit of the parameter.
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
    counted, again = counted_wafers(history, choice)
    stress = selected(text, [row for row in counted if row.number in told], "lot", again)
    if not stress.entries:
        names = sorted({p.name for lot in found for p in lot.lot.parameters if p.value is not None})
        raise HistoryError(
            f"no lot of '{text}' with a stress states '{parameter}' as a number",
            where="--parameter",
            hint=f"they state: {', '.join(names) or 'none'}",
        )
    unit = units[0]
    used = Counter(_word(told[entry]) for entry in stress.entries)
    words = tuple(word for word, _ in used.most_common())
    return Sweep(
        stress=stress,
        parameter=parameter,
        unit=unit or "1",
        word=_asked(shown_in, parameter, words) if shown_in else words[0],
        words=words,
        settings=tuple(told[entry].value or 0.0 for entry in stress.entries),
        without=len({lot.number for lot in found} - {*stress.entries, *again}),
    )


def _word(stated: KeptParameter) -> str:
    """Unit word in which a lot states a parameter; the SI word where its text is unlike it."""
    si = stated.unit if stated.unit != "1" else ""
    try:
        written = parse(stated.text)
        word = written.unit or written.spread_unit
        convert(1.0, si, word)
    except FilmstressError:
        return si
    return canonical(word)


def _asked(word: str, parameter: str, words: Sequence[str]) -> str:
    """Canonical spelling of the word that settings are to be shown in."""
    try:
        convert(1.0, words[0], word)
    except QuantityError:
        rows = (row.words for row in DIMENSIONS.values() if words[0] in row.words)
        known = ", ".join(dict.fromkeys(one for row in rows for one in row if one))
        stated = " and ".join(one or "bare numbers" for one in words)
        raise QuantityError(
            f"'{word}' is no unit for '{parameter}', which the lots state in {stated}",
            where="--setting-unit",
            hint=f"words for it: {known}",
        ) from None
    return canonical(word)
