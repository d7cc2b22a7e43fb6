"""A layer of a stack file as written: the keys of a film, and a few of its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from filmstress.errors import RefusedInput
from filmstress.inputs.builder import Builder
from filmstress.inputs.faults import FaultList
from filmstress.inputs.keys import Key, keys_of
from filmstress.inputs.names import meant, suggest
from filmstress.inputs.readers import shown
from filmstress.inputs.settings import Setting, Settings
from filmstress.inputs.wafer_parts import film_spec
from filmstress.records.quantity import Measured, Source
from filmstress.records.stack import Layer
from filmstress.stacks import keys, recipes


@dataclass(frozen=True, slots=True)
class LayerEntry:
    """A layer, and the settings that it was made from.

    ``film`` goes to the measurement of its step; ``meant_keys`` are keys that are there, well
    written or not, or that an unknown one may have stood for: they are not told as missing.
    """

    layer: Layer
    film: dict[str, Setting]
    notes: tuple[str, ...] = ()
    meant_keys: set[str] = field(default_factory=set)

    @property
    def lacks_stress(self) -> bool:
        """Whether its stress is neither stated nor recorded, nor was meant to be."""
        return self.layer.stress is None and "stress" not in self.meant_keys


def read_layer(
    values: object,
    name: str,
    where: str,
    faults: FaultList,
    *,
    history: recipes.History | None = None,
    thickness: bool = True,
    base: Path | None = None,
) -> LayerEntry | None:
    """Read one layer; None where it is not even a table.

    Parameters
    ----------
    values : object
        As parsed.
    name : str
        Of its state.
    where : str
        Place, for messages.
    faults : FaultList
    history : callable, optional
        Tells of the recipe that the layer may name in place of its stress.
    thickness : bool
        Whether a thickness must be known; else none may be stated.
    base : Path, optional
        Folder that the path of a thickness record starts from.
    """
    if not isinstance(values, Mapping):
        faults.add(
            RefusedInput(
                f"{shown(values)} came, a table is wanted",
                where=where,
                hint="write  layer = { material = 'oxide', thickness = '500 nm ± 1 %' }",
            )
        )
        return None
    of_film = (key for key in keys.OF_FILM if thickness or key != "thickness")
    here = (*of_film, *keys.OWN_OF_LAYER, *recipes.KEYS)
    settings, meant_keys = Settings(), set[str]()
    shared_by = f"layer {name}"
    own: dict[str, Setting] = {}
    for key, raw in values.items():
        place = f"{where}.{key}"
        if key == "thickness" and not thickness:
            faults.add(
                RefusedInput(
                    "the thickness of this layer is what is looked for",
                    where=place,
                    hint="leave it out; state the layer's stress and face",
                )
            )
        elif key not in here:
            faults.add(RefusedInput(f"unknown key '{key}'", where=where, hint=suggest(key, here)))
            meant_keys |= {word.removeprefix("film.") for word in meant(key, here)}
        elif key in recipes.KEYS:
            continue
        elif key in keys.OWN_OF_LAYER:
            own[key] = Setting(keys.OWN_OF_LAYER[key], raw, place, shared_by)
        else:
            settings.put(Setting(keys_of("film")[key], raw, place, shared_by))
    build = Builder(where)
    recorded = None
    if any(key in values for key in recipes.KEYS):
        recorded = recipes.read_recorded(values, build, where, history)
        meant_keys.add("recipe")
    if "recipe" in meant_keys:
        meant_keys |= {"stress"} if recorded else {"stress", "thickness"}
    if recorded is not None:
        recipes.fill_film(settings, recorded, where, shared_by, thickness=thickness)
    film = film_spec(build, settings, name, stripped=False, base=base)
    told = {key: read_setting(build, setting) for key, setting in own.items()}
    if thickness and "thickness" not in settings.film and "thickness" not in meant_keys:
        build.fault(
            "the layer's thickness is not stated", "state it: thickness = '500 nm ± 1 %'", where
        )
    _check_thermal(build, settings, own, meant_keys)
    if "expansion" in own and "measured_at" not in own:
        default = keys.DEFAULTS["layer.measured_at"]
        told["measured_at"] = default.apply(Measured(keys.ROOM_K, "K", source=Source.DEFAULT))
        build.note(f"layer measured at: not stated, 22 degC with {default.words}")
    for fault in build.faults.listed():
        faults.add(fault)
    if recorded is not None:
        told["stress"] = recorded.stress
    layer = Layer(name=name, film=film, recorded=recorded, **told)
    meant_keys |= own.keys()
    # What is taken of a film's profile plays a part where it is scanned, and is told there.
    notes = tuple(note for note in build.notes if not note.startswith("film thickness profile"))
    return LayerEntry(layer, settings.film, notes, meant_keys)


def _check_thermal(
    build: Builder, settings: Settings, own: Mapping[str, Setting], meant_keys: set[str]
) -> None:
    """Expansion, temperature and modulus make the thermal part together."""
    asked = next((own[key] for key in ("expansion", "deposited_at") if key in own), None)
    if asked is None:
        return
    has_modulus = bool({"modulus", "youngs_modulus"} & {*settings.film, *meant_keys})
    for key, there, example in (
        ("expansion", "expansion" in own or "expansion" in meant_keys, "0.5 ppm/K ± 0.1 ppm/K"),
        ("deposited_at", "deposited_at" in own or "deposited_at" in meant_keys, "400 degC"),
        ("modulus", has_modulus, "260 GPa ± 20 GPa"),
    ):
        if not there:
            build.fault(
                f"the thermal part of the layer's stress needs its {key} too",
                f"state  {key} = '{example}'  or leave out expansion and temperatures",
                asked.where,
            )


def read_own(build: Builder, key: Key, raw: object, where: str) -> Measured | None:
    """The quantity of one of the keys of stack files alone."""
    return read_setting(build, Setting(key, raw, f"{where}.{key.name}", ""))


def read_setting(build: Builder, setting: Setting) -> Measured | None:
    """A quantity with its default uncertainty; the note names it as it is spoken."""
    return build.quantity(setting, keys.DEFAULTS[setting.key.full_name])
