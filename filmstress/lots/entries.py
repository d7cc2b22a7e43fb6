"""The wafers of a lot file: its [[wafer]] entries, as written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from filmstress.errors import LotError
from filmstress.inputs.faults import FaultList
from filmstress.inputs.keys import keys_of
from filmstress.inputs.names import meant, suggest
from filmstress.inputs.readers import read_text, shown
from filmstress.inputs.scan_parts import LineInput
from filmstress.inputs.settings import STATES, Settings, find_key, read_table

TABLES = ("substrate", "film", "scan")


@dataclass(frozen=True, slots=True)
class WaferEntry:
    """One wafer as written: its own settings and its lines.

    ``where`` names file and wafer, for messages.
    """

    id: str
    where: str
    settings: Settings
    lines: tuple[LineInput, ...]


def read_tables(
    data: Mapping[str, object], *, where: str, shared_by: str, faults: FaultList
) -> Settings:
    """[substrate], [film], [scan] and the wafer's own keys, at the level of a lot or of a wafer."""
    settings = Settings()
    for table in TABLES:
        values = data.get(table, {})
        if not isinstance(values, Mapping):
            faults.add(
                LotError(
                    f"{shown(values)} came, a table is wanted",
                    where=f"{where}, {table}",
                    hint=f"write [{table}] on its own line, its keys below it",
                )
            )
            continue
        read_table(values, table, where=where, shared_by=shared_by, into=settings, faults=faults)
    own = {key: value for key, value in data.items() if key in keys_of("wafer")}
    read_table(own, "wafer", where=where, shared_by=shared_by, into=settings, faults=faults)
    return settings


def read_entries(wafers: object, where: str, faults: FaultList) -> list[WaferEntry]:
    """The [[wafer]] entries; those without an id or scans are left out and kept as faults."""
    if not isinstance(wafers, list) or not wafers:
        problem = "no wafers are named" if wafers in (None, []) else f"{shown(wafers)} came"
        faults.add(
            LotError(
                f"{problem}; a list of wafers is wanted",
                where=where,
                hint='write each under [[wafer]], in double brackets, or  wafers = "wafers.csv"',
            )
        )
        return []
    found = [_entry(wafer, number, where, faults) for number, wafer in enumerate(wafers, start=1)]
    return [entry for entry in found if entry is not None]


def _entry(wafer: object, number: int, where: str, faults: FaultList) -> WaferEntry | None:
    place = f"{where}, wafer entry {number}"
    if not isinstance(wafer, Mapping):
        faults.add(
            LotError(f"{shown(wafer)} came", where=place, hint="write each wafer under [[wafer]]")
        )
        return None
    known = {*TABLES, *keys_of("wafer"), "id", "scans"}
    name = ""
    if "id" in wafer or not _stands_for("id", wafer, known):
        name = faults.attempt(lambda: _id(wafer, place), "")
    place = f"{where}, wafer {name}" if name else place
    shared_by = f"wafer {name}"
    if isinstance(wafer.get("scan"), list) and "scans" not in wafer:
        faults.add(
            LotError(
                "a list of scans stands under the key 'scan'", where=place, hint="write  scans = ["
            )
        )
        return None
    settings = read_tables(wafer, where=place, shared_by=shared_by, faults=faults)
    direct = {key: value for key, value in wafer.items() if key not in known}
    _scan_keys(direct, settings, place, shared_by, also=known, faults=faults)
    scans = wafer.get("scans")
    if scans is None and _stands_for("scans", direct, known):
        return None
    if not isinstance(scans, list) or not all(isinstance(scan, Mapping) for scan in scans):
        problem = "no scans are named" if scans is None else f"{shown(scans)} came"
        faults.add(
            LotError(
                f"{problem}; a list of scans is wanted",
                where=f"{place}, scans",
                hint='write  scans = [{ azimuth = "0 deg", pre = "pre/1.csv", post = "..." }]',
            )
        )
        return None
    lines = [
        _line(scan, f"{place}, scan {i}", shared_by, faults)
        for i, scan in enumerate(scans, start=1)
    ]
    return WaferEntry(name or f"entry {number}", place, settings, tuple(lines))


def _stands_for(key: str, written: Iterable[str], known: Iterable[str]) -> bool:
    """Whether a name that nobody knows, already a fault, was to be this key."""
    return any(key in meant(word, known) for word in written if word not in known)


def _id(wafer: Mapping[str, object], place: str) -> str:
    if "id" not in wafer:
        raise LotError("the wafer has no id", where=place, hint='write  id = "01"')
    return read_text(wafer["id"], where=f"{place}, id", example="01", wanted="a name as a text")


def _line(scan: Mapping[str, object], where: str, shared_by: str, faults: FaultList) -> LineInput:
    settings = Settings()
    rest = {key: value for key, value in scan.items() if key not in STATES}
    _scan_keys(rest, settings, where, shared_by, also=STATES, faults=faults)
    return LineInput(settings, read_paths(scan, where, faults), where)


def read_paths(scan: Mapping[str, object], where: str, faults: FaultList) -> dict[str, str | None]:
    """The file of each state of one line; the one after deposition must be there."""
    paths: dict[str, str | None] = {}
    for state in STATES:
        paths[state] = None
        if state in scan:
            paths[state] = faults.attempt(
                lambda: read_text(
                    scan[state],  # noqa: B023
                    where=f"{where}, {state}",  # noqa: B023
                    example=f"{state}/01.csv",  # noqa: B023
                    wanted="the name of a file",
                ),
                None,
            )
    if "post" not in scan and not _stands_for("post", scan, (*STATES, *keys_of("scan"))):
        faults.add(
            LotError(
                "the scan after deposition is missing",
                where=where,
                hint="name its file under post, such as 'post/01.csv'",
            )
        )
    return paths


def _scan_keys(
    values: Mapping[str, object],
    into: Settings,
    where: str,
    shared_by: str,
    *,
    also: set[str] | tuple[str, ...],
    faults: FaultList,
) -> None:
    """Keys of [scan] that stand directly in a wafer or in an entry of scans."""
    good = {key: value for key, value in values.items() if find_key(key, "scan")}
    for key in values:
        if key not in good:
            here = [*sorted(also), *keys_of("scan")]
            hint = suggest(key, here)
            faults.add(LotError(f"unknown key '{key}'", where=where, hint=hint))
            into.meant |= meant(key, here)
    read_table(good, "scan", where=where, shared_by=shared_by, into=into, faults=faults)
