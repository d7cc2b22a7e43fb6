"""The lot file: TOML -> LotSpec, or every fault at once."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from filmstress.errors import FilmstressError, LotError
from filmstress.inputs.faults import FaultList
from filmstress.inputs.names import meant, suggest
from filmstress.inputs.readers import read_text
from filmstress.inputs.request import build_wafer
from filmstress.inputs.settings import Settings, read_table
from filmstress.inputs.text_file import TextFile, read_text_file, toml_of
from filmstress.lots.checking import check_named, check_wafers
from filmstress.lots.deposition import read_deposition
from filmstress.lots.entries import TABLES, WaferEntry, read_entries, read_tables
from filmstress.lots.specification import read_specification
from filmstress.lots.table import is_table, wafer_entries
from filmstress.measure.map_lines import with_directions
from filmstress.records.lot import LotSpec, Specification
from filmstress.records.wafer import WaferSpec

# Keys of [scan] that are one for a wafer's scans may stand at the head of the file as well.
_OF_ALL_SCANS = ("bare_bow", "reference")
_TOP = (
    "lot",
    "recipe",
    *TABLES,
    "specification",
    "deposition",
    "wafer",
    "wafers",
    *_OF_ALL_SCANS,
    "role",
)


_MOST_LINES = 1000


def read_lot(path: str | Path, *, files: bool = False) -> LotSpec:
    """Read a lot file.

    Parameters
    ----------
    path : path
        The TOML file; paths inside it start from its folder.
    files : bool
        Whether to check the substrates and the scan files too, these as far as their first rows.

    Raises
    ------
    LotError
        If the file cannot be read, or is not TOML.
    FilmstressError
        The fault in it, or `Faults` with every one of them, each naming its wafer and key.
    """
    return lot_of_text(read_text_file(Path(path), what="lot file"), files=files)


def lot_of_text(file: TextFile, table: TextFile | None = None, *, files: bool = False) -> LotSpec:
    """A lot from the text of its file, and that of its wafer table.

    Parameters
    ----------
    file : TextFile
        The paths inside start from its folder.
    table : TextFile, optional
        Stands for the wafer table that the lot file names; by default that one is read.
    files : bool
        As in `read_lot`.

    Raises
    ------
    FilmstressError
        As `read_lot`.
    """
    try:
        data = toml_of(file.text)
    except ValueError as error:
        if is_table(file.text):
            raise LotError(
                "is a table, not a lot file",
                where=str(file.path),
                hint=f'write a lot file that names it,  wafers = "{file.path.name}"  and what '
                "holds for all its wafers; 'filmstress lot --template' shows one",
            ) from None
        raise LotError(
            f"not TOML: {error}",
            where=str(file.path),
            hint='keys are written  thickness = "525 um ± 2 um"  under a [table]',
        ) from None
    return lot_from(data, path=file.path, sha256=file.sha256, table=table, files=files)


def lot_from(
    data: Mapping[str, object],
    *,
    path: Path,
    sha256: str = "",
    table: TextFile | None = None,
    files: bool = False,
) -> LotSpec:
    """A lot from what its file holds.

    Parameters
    ----------
    data : mapping
        The file as parsed.
    path : Path
        Of the file; the paths inside start from its folder.
    sha256 : str
        Of the file's bytes.
    table : TextFile, optional
        Stands for the wafer table that the file names.
    files : bool
        As in `read_lot`.

    Raises
    ------
    FilmstressError
        The fault, or `Faults` with all of them.
    """
    try:
        return _lot(data, path, sha256, table, files=files)
    except RecursionError:
        raise LotError("tables are nested too deep", where=str(path), hint="keep it flat") from None


def _lot(
    data: Mapping[str, object],
    path: Path,
    sha256: str,
    stands_in: TextFile | None,
    *,
    files: bool,
) -> LotSpec:
    faults, where = FaultList(), str(path)
    if "state" in data and not {"lot", "wafer", "wafers"} & set(data):
        raise LotError(
            "is a stack file (it holds [[state]]), not a lot file",
            where=where,
            hint="filmstress stack STACK.toml; 'filmstress lot --template' shows a lot file",
        )
    for key in data:
        if key not in _TOP:
            faults.add(LotError(f"unknown key '{key}'", where=where, hint=suggest(key, _TOP)))
    name, recipe = (
        faults.attempt(
            lambda: read_text(data[key], where=f"{where}, {key}", example="K7-0412"),  # noqa: B023
            "",
        )
        if key in data
        else ""
        for key in ("lot", "recipe")
    )
    unknown = [key for key in data if key not in _TOP]
    if "lot" not in data and not any("lot" in meant(key, _TOP) for key in unknown):
        faults.add(LotError("the lot is not named", where=where, hint='write  lot = "K7-0412"'))
    common = read_tables(data, where=where, shared_by=f"lot {name}", faults=faults)
    of_all = {key: data[key] for key in _OF_ALL_SCANS if key in data}
    read_table(of_all, "scan", where=where, shared_by=f"lot {name}", into=common, faults=faults)
    specification = deposition = None
    if "specification" in data:
        specification = read_specification(data["specification"], where, faults)
    if "deposition" in data:
        deposition = read_deposition(data["deposition"], where, faults)
    entries, table = _entries(data, path, stands_in, faults)
    _check_ids(entries, faults)
    wafers = _wafers(entries, common, path, faults)
    _check_size(wafers, specification, where, faults)
    if files:
        check_wafers(wafers, where, faults)
        whole = {wafer.id for wafer in wafers}
        for entry in entries:
            if entry.id not in whole:
                named = [file for line in entry.lines for file in line.paths.values() if file]
                check_named(named, path.parent, entry.where, faults)
    faults.raise_any()
    return LotSpec(
        lot=name,
        recipe=recipe,
        path=where,
        sha256=sha256,
        wafers=tuple(wafers),
        specification=specification,
        deposition=deposition or (),
        table=table,
    )


def _entries(
    data: Mapping[str, object], path: Path, stands_in: TextFile | None, faults: FaultList
) -> tuple[list[WaferEntry], tuple[str, str] | None]:
    where = str(path)
    if "wafers" not in data:
        return read_entries(data.get("wafer"), where, faults), None
    if "wafer" in data:
        faults.add(
            LotError(
                "wafers stand both in [[wafer]] and in a table",
                where=where,
                hint="keep the one or the other",
            )
        )
        return [], None
    named = data["wafers"]
    try:
        name = read_text(
            named, where=f"{where}, wafers", example="wafers.csv", wanted="the name of a table"
        )
        table = stands_in or read_text_file(path.parent / name, what="wafer table")
        entries = wafer_entries(table, faults)
    except FilmstressError as fault:
        faults.add(fault)
        return [], None
    return entries, (str(path.parent / name), table.sha256)


def _check_ids(entries: list[WaferEntry], faults: FaultList) -> None:
    seen: set[str] = set()
    for entry in entries:
        if entry.id in seen:
            faults.add(
                LotError(
                    f"wafer '{entry.id}' stands twice",
                    where=entry.where,
                    hint="give each wafer one entry; its lines and repeats go into its scans",
                )
            )
        seen.add(entry.id)


def _check_size(
    wafers: list[WaferSpec], specification: Specification | None, where: str, faults: FaultList
) -> None:
    sampling = None if specification is None else specification.sampling
    named = sum(wafer.role != "witness" for wafer in wafers)
    if sampling is not None and sampling.lot_size is not None and named > sampling.lot_size:
        faults.add(
            LotError(
                f"the lot has {sampling.lot_size} wafers, but {named} are named in it",
                where=f"{where}, specification.sampling.lot_size",
                hint="count all wafers of the lot, measured or not; witnesses do not count",
            )
        )


def _wafers(
    entries: list[WaferEntry], common: Settings, path: Path, faults: FaultList
) -> list[WaferSpec]:
    """Every wafer that can be built; a fault common to several is told once, for all of them."""
    wafers: list[WaferSpec] = []
    about: dict[tuple[str, str], list[WaferEntry]] = {}
    for entry in entries:
        own = FaultList()
        wafer = own.attempt(lambda: _built(entry, common, path), None)  # noqa: B023
        if wafer is not None:
            wafers.append(wafer)
        for fault in own.listed():
            if fault.where == entry.where:
                about.setdefault((fault.message, fault.hint), []).append(entry)
            else:
                faults.add(fault)
    for (message, hint), those in about.items():
        where = those[0].where
        if len(those) > 1:
            where = f"{path}, wafers " + ", ".join(entry.id for entry in those)
        faults.add(LotError(message, where=where, hint=hint))
    return wafers


def _built(entry: WaferEntry, common: Settings, path: Path) -> WaferSpec:
    if len(entry.lines) > _MOST_LINES:
        raise LotError(
            f"has {len(entry.lines)} entries of scans; at most {_MOST_LINES} are read",
            where=entry.where,
            hint="name each wafer's own scans under it",
        )
    settings = common.overlaid(entry.settings)
    lines = with_directions(entry.lines, settings, base=path.parent)
    return build_wafer(entry.id, settings, lines, base=path.parent, where=entry.where)
