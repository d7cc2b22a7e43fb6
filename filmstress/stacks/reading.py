"""The stack file: TOML -> StackSpec, or every fault at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from filmstress.errors import FilmstressError, RefusedInput
from filmstress.inputs.builder import Builder
from filmstress.inputs.faults import FaultList
from filmstress.inputs.keys import WEIGHINGS
from filmstress.inputs.names import suggest
from filmstress.inputs.readers import read_text, shown
from filmstress.inputs.request import build_wafer
from filmstress.inputs.settings import STATES, Setting, Settings, read_table
from filmstress.inputs.text_file import toml_of
from filmstress.inputs.wafer_parts import substrate_spec
from filmstress.measure.plate import plate_of
from filmstress.records.quantity import Measured
from filmstress.records.stack import Balance, StackSpec, StackState
from filmstress.records.wafer import WaferSpec
from filmstress.stacks import keys
from filmstress.stacks.layers import LayerEntry, read_layer, read_own
from filmstress.stacks.parts import thermal_part
from filmstress.stacks.recipes import History
from filmstress.stacks.scans import paired, read_scans
from filmstress.stacks.sequence import Entry, check_sequence

_TOP = ("name", "substrate", "scan", "state", "balance")
_OF_STATE = ("name", "layer", "strips", "changes", "scans")
_OF_BALANCE = ("target_bow", "layer")
_NOT_HERE = ("reference", "gravity", *WEIGHINGS)


def stack_of_text(
    text: str, *, path: Path, sha256: str = "", history: History | None = None
) -> StackSpec:
    """A stack from the text of its file.

    Parameters
    ----------
    text : str
    path : Path
        Of the file; the paths inside start from its folder.
    sha256 : str
        Of the file's bytes.
    history : callable, optional
        Tells of the recorded recipes that layers may name in place of their stress.

    Raises
    ------
    FilmstressError
        The fault in it, or `Faults` with every one of them, each naming its state and key.
    """
    where = str(path)
    try:
        data = toml_of(text)
    except ValueError as error:
        raise RefusedInput(
            f"not TOML: {error}",
            where=where,
            hint='keys are written  thickness = "525 um ± 2 um"  under a [table]',
        ) from None
    if {"lot", "wafer", "wafers"} & set(data) and "state" not in data:
        raise RefusedInput(
            "is a lot file, not a stack file: it holds no [[state]]",
            where=where,
            hint="filmstress lot LOT.toml",
        )
    faults = FaultList()
    unknown_keys(data, _TOP, where, faults)
    name = "stack"
    if "name" in data:
        name = faults.attempt(
            lambda: read_text(data["name"], where=f"{where}, name", example="N7 stack"), name
        )
    common, own = _common(data, where, name, faults)
    build = Builder(where)
    substrate = substrate_spec(build, common, name)
    expansion = build.quantity(own.get("expansion"), keys.DEFAULTS["substrate.expansion"])
    length = build.value(own.get("length"))
    bare = build.quantity(common.scan.get(("", "bare_bow")))
    for fault in build.faults.listed():
        faults.add(fault)
    faults.attempt(lambda: plate_of(substrate), None)
    entries = _entries(data.get("state"), where, faults, history, path.parent)
    check_sequence(entries, faults)
    notes: list[str] = []
    states, azimuths = _states(entries, common, name, path, faults)
    balance = _balance(data["balance"], where, faults, history) if "balance" in data else None
    if own.get("length") is None and not any(state.scanned for state in states):
        faults.add(
            RefusedInput(
                "no state is scanned, and the length that bows are told over is not stated",
                where=f"{where}, scan",
                hint='write  length = "120 mm"  under [scan]',
            )
        )
    scanned = any(state.scanned for state in states)
    if not scanned and bare is None and ("", "bare_bow") not in common.scan:
        notes += ["bow of the first state: not scanned nor stated, taken as 0"]
    layers = [entry.layer for entry in entries if entry.layer] + ([balance[1]] if balance else [])
    for layer in layers:
        told = f"{where}, state {layer.layer.name}, layer"
        faults.attempt(
            lambda: thermal_part(layer.layer, substrate, expansion, where=told),  # noqa: B023
            None,
        )
        notes += (f"{layer.layer.name}: {note}" for note in layer.notes)
    faults.raise_any()
    return StackSpec(
        name=name,
        path=where,
        sha256=sha256,
        substrate=substrate,
        substrate_expansion=expansion,
        azimuths=azimuths or (0.0,),
        length=length.value if isinstance(length, Measured) else None,
        bare_bow=bare,
        states=tuple(states),
        balance=None if balance is None else Balance(balance[0], balance[1].layer),
        notes=tuple(dict.fromkeys((*build.notes, *notes))),
    )


def unknown_keys(
    values: Mapping[str, object], known: tuple[str, ...], where: str, faults: FaultList
) -> None:
    """Keep a fault for every key that is not known here."""
    for key in values:
        if key not in known:
            faults.add(RefusedInput(f"unknown key '{key}'", where=where, hint=suggest(key, known)))


def _common(
    data: Mapping[str, object], where: str, name: str, faults: FaultList
) -> tuple[Settings, dict[str, Setting]]:
    """[substrate] and [scan], and the keys of their own that they have in a stack file."""
    settings, own = Settings(), {}
    for table, key in (("substrate", keys.SUBSTRATE_EXPANSION), ("scan", keys.LENGTH)):
        values = data.get(table, {})
        if not isinstance(values, Mapping):
            faults.add(
                RefusedInput(
                    f"{shown(values)} came, a table is wanted",
                    where=f"{where}, {table}",
                    hint=f"write [{table}] on its own line, its keys below it",
                )
            )
            continue
        rest = dict(values)
        if key.name in rest:
            place = f"{where}, {table}.{key.name}"
            own[key.name] = Setting(key, rest.pop(key.name), place, f"wafer {name}")
        for written in [key for key in rest if table == "scan" and _of_pairs(key)]:
            del rest[written]
            faults.add(
                RefusedInput(
                    f"'{written}' speaks of a pair of scans, and a stack has states",
                    where=f"{where}, {table}",
                    hint="state it in the entries of that state's scans, without a prefix",
                )
            )
        read_table(
            rest, table, where=where, shared_by=f"wafer {name}", into=settings, faults=faults
        )
    return settings, own


def _of_pairs(key: str) -> bool:
    return key in _NOT_HERE or key.startswith(tuple(f"{s}_" for s in (*STATES, *WEIGHINGS)))


def _entries(
    states: object, where: str, faults: FaultList, history: History | None, base: Path
) -> list[Entry]:
    if not isinstance(states, list) or not states:
        problem = "no states are named" if states in (None, []) else f"{shown(states)} came"
        faults.add(
            RefusedInput(
                f"{problem}; a list of states is wanted",
                where=where,
                hint='write each under [[state]], in double brackets, with  name = "bare"  first',
            )
        )
        return []
    entries: list[Entry] = []
    for number, values in enumerate(states, start=1):
        place = f"{where}, state entry {number}"
        if not isinstance(values, Mapping):
            faults.add(RefusedInput(f"{shown(values)} came", where=place, hint="write [[state]]"))
            continue
        name = ""
        if "name" in values:
            name = faults.attempt(
                lambda: read_text(
                    values["name"],  # noqa: B023
                    where=f"{place}, name",  # noqa: B023
                    example="after oxide",
                ),
                "",
            )
        elif not any("name" in suggest(key, _OF_STATE) for key in values if key not in _OF_STATE):
            faults.add(
                RefusedInput("the state has no name", where=place, hint='write  name = "bare"')
            )
        place = f"{where}, state {name}" if name else place
        entries.append(_entry(values, name, place, faults, history, base))
    return entries


def _entry(
    values: Mapping[str, object],
    name: str,
    place: str,
    faults: FaultList,
    history: History | None,
    base: Path,
) -> Entry:
    entry = Entry(name, place)
    unknown_keys(values, _OF_STATE, place, faults)
    if "layer" in values:
        entry.layer = read_layer(
            values["layer"], name, f"{place}, layer", faults, history=history, base=base
        )
    for key in ("strips", "changes"):
        if key in values:
            told = faults.attempt(
                lambda: read_text(
                    values[key],  # noqa: B023
                    where=f"{place}, {key}",  # noqa: B023
                    example="oxide",
                    wanted="the name of the state that the layer came in",
                ),
                "",
            )
            setattr(entry, key, told)
    if sum(key in values for key in ("layer", "strips", "changes")) > 1:
        faults.add(
            RefusedInput(
                "two things happen in one state",
                where=place,
                hint="write a state of its own for each layer, strip or change",
            )
        )
    if "scans" in values:
        entry.scans = read_scans(values["scans"], place, faults)
    return entry


def _states(
    entries: list[Entry], common: Settings, name: str, path: Path, faults: FaultList
) -> tuple[list[StackState], tuple[float, ...]]:
    first = next((entry for entry in entries if entry.scans), None)
    on_wafer: dict[str, LayerEntry] = {}
    states: list[StackState] = []
    azimuths: tuple[float, ...] = ()
    before: Entry | None = None
    for entry in entries:
        changes = entry.changes
        if before is not None and not (entry.layer or entry.strips or changes):
            changes = next(iter(on_wafer)) if len(on_wafer) == 1 else ""
        about = entry.layer or on_wafer.get(entry.strips or changes)
        step = whole = None
        if before is not None and first is not None and entry.scans and entry is not first:
            if before.scans:
                step = _pair(before, entry, about, common, name, path, faults)
            # The very same pair where the state before is the first scanned one, but for the film.
            whole = _pair(first, entry, None, common, name, path, faults)
            if whole is not None and not azimuths:
                azimuths = tuple(line.azimuth.value for line in whole.lines)
        layer = None if entry.layer is None else entry.layer.layer
        states.append(
            StackState(entry.name, layer, entry.strips, changes, bool(entry.scans), step, whole)
        )
        on_wafer.pop(entry.strips, None)
        if entry.layer:
            on_wafer[entry.name] = entry.layer
        before = entry
    if sum(bool(entry.scans) for entry in entries) == 1 and first is not None:
        faults.add(
            RefusedInput(
                "it is the only state that is scanned, and a bow is told between two",
                where=f"{first.where}, scans",
                hint="scan another state, or leave the scans out and state  bare_bow  in [scan]",
            )
        )
    return states, azimuths


def _pair(
    before: Entry,
    after: Entry,
    about: LayerEntry | None,
    common: Settings,
    name: str,
    path: Path,
    faults: FaultList,
) -> WaferSpec | None:
    """Two scanned states as the pair that the chain measures; None where it has faults."""
    own = FaultList()
    lines = paired(before.scans, after.scans, before.name, after.where, own)
    settings = common
    if about is not None:
        settings = replace(common, film=about.film)
    built: WaferSpec | None = None
    if not len(own):
        try:
            built = build_wafer(name, settings, lines, base=path.parent, where=after.where)
        except FilmstressError as error:
            own.add(error)
    for fault in own.listed():
        faults.add(fault)
    return built


def _balance(
    values: object, where: str, faults: FaultList, history: History | None
) -> tuple[Measured, LayerEntry] | None:
    place = f"{where}, balance"
    if not isinstance(values, Mapping):
        faults.add(RefusedInput(f"{shown(values)} came", where=place, hint="write [balance]"))
        return None
    unknown_keys(values, _OF_BALANCE, place, faults)
    build = Builder(place)
    target = Measured(0.0, "m", 0.0, read_as="not stated, flat")
    if "target_bow" in values:
        target = read_own(build, keys.TARGET_BOW, values["target_bow"], place) or target
    for fault in build.faults.listed():
        faults.add(fault)
    if "layer" not in values:
        faults.add(
            RefusedInput(
                "the layer that is to balance the bow is not stated",
                where=place,
                hint="write  layer = { stress = '-300 MPa ± 15 MPa', face = 'down' }",
            )
        )
        return None
    layer = read_layer(
        values["layer"], "balance", f"{place}, layer", faults, history=history, thickness=False
    )
    if layer is None:
        return None
    if layer.lacks_stress:
        faults.add(
            RefusedInput(
                "the stress of the layer that is to balance the bow is not stated",
                where=f"{place}, layer",
                hint="write  stress = '-300 MPa ± 15 MPa'",
            )
        )
    return target, layer
