"""Settings: who stated what at which level, with the more particular level winning."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from filmstress.errors import RefusedInput, UsageError
from filmstress.inputs.faults import FaultList
from filmstress.inputs.keys import WEIGHINGS, Key, all_keys, arguments, keys_of
from filmstress.inputs.names import meant, nearest, suggest
from filmstress.inputs.readers import Value, read_value

STATES = ("pre", "post")

# Ways of saying the same thing that exclude each other: a particular level that chooses one lays
# aside the others of the level below, and on one level they contradict each other.
RIVALS: Mapping[str, Mapping[str, frozenset[str]]] = {
    "substrate": {
        "material": frozenset({"modulus", "youngs_modulus", "poisson_ratio", "density"}),
        "modulus": frozenset({"material", "youngs_modulus"}),
        "youngs_modulus": frozenset({"material", "modulus"}),
    },
    "film": {
        "modulus": frozenset({"youngs_modulus", "poisson_ratio"}),
        "youngs_modulus": frozenset({"modulus"}),
        "poisson_ratio": frozenset({"modulus"}),
    },
}


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

    def read(self) -> Value:
        """The value, read as its key wants it.

        Raises
        ------
        RefusedInput
            If it cannot be read.
        """
        return read_value(self.raw, self.key.reader, where=self.where)


@dataclass(slots=True)
class Settings:
    """All that is stated at one level or, after :meth:`overlaid`, down to one level.

    ``scan`` is keyed by (state, name); the state "" speaks of every state.  ``meant`` holds the
    full names of keys that were stated under a name that nobody knows.
    """

    substrate: dict[str, Setting] = field(default_factory=dict)
    film: dict[str, Setting] = field(default_factory=dict)
    wafer: dict[str, Setting] = field(default_factory=dict)
    scan: dict[tuple[str, str], Setting] = field(default_factory=dict)
    meant: set[str] = field(default_factory=set)

    def put(self, setting: Setting, state: str = "") -> Setting | None:
        """Add one setting; give back the one that stood there before, if any."""
        name = setting.key.name
        if setting.key.table == "scan":
            before = self.scan.get((state, name))
            self.scan[state, name] = setting
            return before
        table = self.table(setting.key.table)
        earlier = table.get(name)
        table[name] = setting
        return earlier

    def table(self, name: str) -> dict[str, Setting]:
        """The settings of one table that is not [scan]."""
        return {"substrate": self.substrate, "film": self.film, "wafer": self.wafer}[name]

    def overlaid(self, above: Settings) -> Settings:
        """These settings with those of a more particular level laid over them."""
        merged = Settings(
            _overlaid(self.substrate, above.substrate, RIVALS["substrate"]),
            _overlaid(self.film, above.film, RIVALS["film"]),
            {**self.wafer, **above.wafer},
            dict(self.scan),
            self.meant | above.meant,
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

    def every(self) -> Iterator[tuple[str, Setting]]:
        """(name, setting) of everything stated, states as prefixes, in the order of the keys."""
        for key in all_keys():
            if key.table != "scan":
                if (setting := self.table(key.table).get(key.name)) is not None:
                    yield key.full_name, setting
                continue
            for state in ("", *STATES, *WEIGHINGS):
                if (setting := self.scan.get((state, key.name))) is not None:
                    yield f"scan.{state}_{key.name}" if state else key.full_name, setting


def _overlaid(
    below: Mapping[str, Setting],
    above: Mapping[str, Setting],
    rivals: Mapping[str, frozenset[str]],
) -> dict[str, Setting]:
    laid_aside = {rival for name in above for rival in rivals.get(name, ())}
    kept = {name: setting for name, setting in below.items() if name not in laid_aside}
    return {**kept, **above}


def read_table(
    values: Mapping[str, object],
    table: str,
    *,
    where: str,
    shared_by: str,
    into: Settings,
    faults: FaultList,
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
    faults : FaultList
        Receives a fault for each key that is not known or was stated already.
    """
    for written, raw in values.items():
        found = find_key(written, table)
        if found is None:
            faults.add(
                RefusedInput(
                    f"unknown key '{written}' in [{table}]",
                    where=where,
                    hint=suggest(written, keys_of(table)),
                )
            )
            names = meant(written, keys_of(table))
            into.meant |= {name if "." in name else f"{table}.{name}" for name in names}
            continue
        key, state = found
        place = f"{where}, {table}.{written}"
        if (before := into.put(Setting(key, raw, place, shared_by), state)) is not None:
            faults.add(
                RefusedInput(
                    "the same key is stated twice",
                    where=place,
                    hint=f"keep one of the two; the other stands at {before.where}",
                )
            )


def find_key(written: str, table: str) -> tuple[Key, str] | None:
    """The key that a name in a table stands for, and its state: ``post_support`` -> "post"."""
    known = keys_of(table)
    if written in known:
        return known[written], ""
    for state in (*STATES, *WEIGHINGS):
        name = written.removeprefix(f"{state}_")
        if name != written and name in known and known[name].per_scan:
            return known[name], state
    return None


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
            raise UsageError(f"unknown setting '{name}'", hint=nearest(name, list(known)))
        key, state = known[name]
        where = "--" + name.replace("_", "-") if as_options else name
        settings.put(Setting(key, raw, where, shared_by), state)
    return settings
