"""Settings: who stated what at which level, with the more particular level winning."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, field

from filmstress.errors import FilmstressError, RefusedInput, UsageError
from filmstress.inputs.keys import Key, all_keys, arguments, keys_of

STATES = ("pre", "post")


@dataclass(frozen=True, slots=True)
class Setting:
    """One stated value, still as written.

    ``where`` names its place in messages; ``shared_by`` names what shares the value, so that
    means over wafers treat its uncertainty rightly.
    """

    key: Key
    raw: object
    where: str
    shared_by: str


@dataclass(slots=True)
class Settings:
    """All that is stated at one level or, after :meth:`overlaid`, down to one level.

    ``scan`` is keyed by (state, name); the state "" speaks of every state.
    """

    substrate: dict[str, Setting] = field(default_factory=dict)
    film: dict[str, Setting] = field(default_factory=dict)
    wafer: dict[str, Setting] = field(default_factory=dict)
    scan: dict[tuple[str, str], Setting] = field(default_factory=dict)

    def put(self, setting: Setting, state: str = "") -> None:
        """Add one setting."""
        if setting.key.per_scan:
            self.scan[state, setting.key.name] = setting
        else:
            self.table(setting.key.table)[setting.key.name] = setting

    def table(self, name: str) -> dict[str, Setting]:
        """The settings of one table that is not [scan]."""
        return {"substrate": self.substrate, "film": self.film, "wafer": self.wafer}[name]

    def overlaid(self, above: Settings) -> Settings:
        """These settings with those of a more particular level laid over them."""
        merged = Settings(
            {**self.substrate, **above.substrate},
            {**self.film, **above.film},
            {**self.wafer, **above.wafer},
            dict(self.scan),
        )
        # A particular "support" silences a general "pre_support", not only a general "support".
        for state, name in above.scan:
            if state == "":
                for other in STATES:
                    merged.scan.pop((other, name), None)
        merged.scan.update(above.scan)
        return merged

    def of_scan(self, state: str, name: str) -> Setting | None:
        """What holds for one scan: the state's own setting before the one for every state."""
        return self.scan.get((state, name)) or self.scan.get(("", name))

    def every(self) -> list[tuple[str, Setting]]:
        """(name, setting) of everything stated, states as prefixes."""
        plain = [*self.substrate.values(), *self.film.values(), *self.wafer.values()]
        pairs = [(setting.key.full_name, setting) for setting in plain]
        pairs += [
            (f"scan.{state}_{name}" if state else f"scan.{name}", setting)
            for (state, name), setting in self.scan.items()
        ]
        return pairs


def nearest(word: str, known: list[str]) -> str:
    """A hint that names the known word nearest to ``word``, or lists a few."""
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    if close:
        return f"did you mean '{close[0]}'?"
    return "known here: " + ", ".join(known)


def split_state(name: str) -> tuple[str, str]:
    """``post_support`` -> ("post", "support"); a name without a prefix keeps the state ""."""
    for state in STATES:
        if name.startswith(f"{state}_"):
            return state, name.removeprefix(f"{state}_")
    return "", name


def read_table(
    values: Mapping[str, object],
    table: str,
    *,
    where: str,
    shared_by: str,
    into: Settings,
    faults: list[FilmstressError],
) -> None:
    """Take one table of a lot file into ``into``; unknown keys become faults.

    Parameters
    ----------
    values : mapping
        Key and value as parsed.
    table : str
        "substrate", "film", "scan" or "wafer".
    where : str
        File (and wafer), for messages.
    shared_by : str
        What shares these values: "lot K7" or "wafer 01".
    into : Settings
        Receives the settings.
    faults : list
        Receives a fault for each unknown key.
    """
    known = keys_of(table)
    for written, raw in values.items():
        state, name = split_state(written) if table == "scan" else ("", written)
        if name in known:
            place = f"{where}, {table}.{written}"
            into.put(Setting(known[name], raw, place, shared_by), state)
        else:
            faults.append(
                RefusedInput(
                    f"unknown key '{written}' in [{table}]",
                    where=where,
                    hint=nearest(name, list(known)),
                )
            )


def from_arguments(values: Mapping[str, object], *, as_options: bool, shared_by: str) -> Settings:
    """Settings from keyword arguments (``substrate_thickness=...``) or options of those names.

    Values of None are not stated.

    Raises
    ------
    UsageError
        For a name that is not known.
    """
    known = {name: (key, state) for name, key, state in arguments()}
    settings = Settings()
    for name, raw in values.items():
        if raw is None:
            continue
        if name not in known:
            raise UsageError(
                f"unknown setting '{name}'",
                hint=nearest(name, [key.argument for key in all_keys()]),
            )
        key, state = known[name]
        where = "--" + name.replace("_", "-") if as_options else name
        settings.put(Setting(key, raw, where, shared_by), state)
    return settings
