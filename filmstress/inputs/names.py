"""Names that nobody knows: what may have been meant."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from functools import cache

from filmstress.inputs.keys import WEIGHINGS, all_keys

_MANY = 12


def nearest(word: str, known: Iterable[str]) -> str:
    """A hint that names the known word nearest to ``word``, or lists the first few."""
    known = list(known)
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    if close:
        return f"did you mean '{close[0]}'?"
    more = ", ..." if len(known) > _MANY else ""
    return "known here: " + ", ".join(known[:_MANY]) + more


def suggest(word: str, here: Iterable[str]) -> str:
    """A hint for a key that is not known: the table it belongs to, or the nearest name.

    A prefix of a state is kept: ``post_suport`` is nearest to ``post_support``.
    """
    here = list(here)
    if (homes := _homes().get(word)) is not None:
        return "did you mean " + " or ".join(f"'{home}'" for home in homes) + "?"
    for prefix in ("pre_", "post_", *(f"{state}_" for state in WEIGHINGS)):
        if word.startswith(prefix):
            here = [*here, *(prefix + name for name in here)]
    if difflib.get_close_matches(word, here, n=1, cutoff=0.6):
        return nearest(word, here)
    elsewhere = difflib.get_close_matches(word, _homes(), n=1, cutoff=0.8)
    return suggest(elsewhere[0], here) if elsewhere else nearest(word, here)


def meant(word: str, here: Iterable[str]) -> set[str]:
    """The keys that an unknown one may stand for: what `suggest` names, if anything.

    What was only mistyped is not told as missing as well.
    """
    if (homes := _homes().get(word)) is not None:
        return set(homes)
    return set(difflib.get_close_matches(word, list(here), n=1, cutoff=0.6))


@cache
def _homes() -> Mapping[str, tuple[str, ...]]:
    """Name, option name or full name of a key -> where it may stand in a lot file."""
    homes: dict[str, tuple[str, ...]] = {}
    for key in all_keys():
        home = key.name if key.table == "wafer" else key.full_name
        for name in {key.name, key.argument, f"{key.table}_{key.name}", key.full_name}:
            if home not in homes.get(name, ()):
                homes[name] = (*homes.get(name, ()), home)
    return homes
