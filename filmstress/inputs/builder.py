"""Reads settings one by one, keeping count of faults and of the defaults that were filled in."""

from __future__ import annotations

from collections.abc import Mapping

from filmstress.errors import FilmstressError, RefusedInput
from filmstress.inputs.defaults import DEFAULTS, MUST_BE_STATED, Default
from filmstress.inputs.faults import FaultList
from filmstress.inputs.readers import Quantity, Value
from filmstress.inputs.settings import Setting
from filmstress.records.quantity import Measured, Shape


class Builder:
    """What is shared while one wafer's request is built.

    ``where`` names the wafer in faults that are about something not stated at all.
    """

    def __init__(self, where: str = "") -> None:
        self.where = where
        self.faults = FaultList()
        self.notes: list[str] = []

    def fault(self, message: str, hint: str, where: str | None = None) -> None:
        """Keep a fault."""
        place = self.where if where is None else where
        self.faults.add(RefusedInput(message, where=place, hint=hint))

    def note(self, text: str) -> None:
        """Keep a remark on something filled in, once."""
        if text not in self.notes:
            self.notes.append(text)

    def value(self, setting: Setting | None) -> Value:
        """The value of a setting as read; None where there is none or it has a fault."""
        if setting is None:
            return None
        try:
            return setting.read()
        except FilmstressError as fault:
            self.faults.add(fault)
            return None

    def quantity(self, setting: Setting | None, default: Default | None = None) -> Measured | None:
        """The quantity of a setting, with its default uncertainty where none is stated."""
        value = self.value(setting)
        if setting is None or not isinstance(value, Measured):
            return None
        name = setting.key.full_name
        if value.u is None and name in MUST_BE_STATED:
            reader = setting.key.reader
            example = reader.kind.example if isinstance(reader, Quantity) else ""
            self.fault(
                f"the uncertainty of {spoken(name)} is not stated, and there is no default for it",
                f"write it like '{example}', or '(exact)' behind the value",
                setting.where,
            )
        return self.filled(value, default or DEFAULTS.get(name), name)

    def filled(self, value: Measured, default: Default | None, name: str) -> Measured:
        """The quantity with its default; without one (a diameter, an origin) it stands as it is."""
        if value.u is not None:
            return value
        if default is None:
            return value.with_default(u=0.0, shape=Shape.EXACT, read_as="taken as exact")
        self.note(f"{spoken(name)}: no uncertainty stated, {default.words}")
        return default.apply(value)

    def word(self, setting: Setting | None, fallback: str) -> str:
        """The word of a setting, or what holds where it is not stated."""
        value = self.value(setting)
        return value if isinstance(value, str) else fallback

    def text(self, setting: Setting | None) -> str | None:
        """The text of a setting."""
        return self.word(setting, "") or None

    def contradictions(
        self, stated: Mapping[str, Setting], rivals: Mapping[str, frozenset[str]]
    ) -> None:
        """Keep a fault for settings that exclude each other."""
        named: set[str] = set()
        for name, others in rivals.items():
            clash = [other for other in others if other in stated]
            if name in stated and name not in named and clash:
                named.update((name, *clash))
                both = " and ".join(sorted((name, *clash)))
                self.fault(
                    f"{both} are stated together and could contradict each other",
                    "keep the one or the other",
                    stated[name].where,
                )


def spoken(full_name: str) -> str:
    """``substrate.thickness`` -> "substrate thickness"; scan keys lose the table's name."""
    return full_name.removeprefix("scan.").replace(".", " ").replace("_", " ")
