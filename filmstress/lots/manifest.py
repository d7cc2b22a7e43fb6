"""The lot file: TOML -> LotSpec, or every fault at once."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from filmstress.errors import Faults, FilmstressError, LotError, RefusedInput
from filmstress.inputs.keys import keys_of
from filmstress.inputs.request import LineInput, build_wafer
from filmstress.inputs.settings import Settings, nearest, read_table, split_state
from filmstress.lots.table import read_wafer_table
from filmstress.records.lot import LotSpec, Specification
from filmstress.records.wafer import WaferSpec
from filmstress.units.kinds import Kind
from filmstress.units.quantity import read_quantity

_TABLES = ("substrate", "film", "scan")
_TOP = (
    "lot",
    "recipe",
    *_TABLES,
    "specification",
    "deposition",
    "wafer",
    "wafers",
    "bare_bow",
    "reference",
    "role",
)
_LIMITS = ("lower", "upper", "spread_max", "within_max")
_STRESS = Kind("stress limit", "stress", -20e9, 20e9, "-150 MPa")
_CONFIDENCE = Kind("confidence", "number", 0.5, 0.9999, "0.95")
MAX_BYTES = 16 * 2**20


def read_lot(path: str | Path) -> LotSpec:
    """Read a lot file.

    Parameters
    ----------
    path : path
        The TOML file; paths inside it start from its folder.

    Raises
    ------
    LotError
        If the file cannot be read, or is not TOML.
    Faults
        With every fault in it, each naming its wafer and key.
    """
    path = Path(path)
    raw = _bytes_of(path)
    try:
        data = tomllib.loads(raw.decode("utf-8"))
    except UnicodeDecodeError as error:
        raise LotError(
            f"byte {error.start} is not UTF-8", where=str(path), hint="save the lot file as UTF-8"
        ) from None
    except tomllib.TOMLDecodeError as error:
        raise LotError(
            f"not TOML: {error}",
            where=str(path),
            hint='keys are written  thickness = "525 um ± 2 um"  under a [table]',
        ) from None
    return _Reader(path).lot(data, hashlib.sha256(raw).hexdigest())


def _bytes_of(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise LotError("is a folder", where=str(path), hint="name the lot file in it")
        if path.stat().st_size > MAX_BYTES:
            raise LotError("is too large for a lot file", where=str(path), hint="at most 16 MiB")
        return path.read_bytes()
    except OSError as error:
        raise LotError(
            f"cannot be read: {error.strerror}", where=str(path), hint="check name and rights"
        ) from None


class _Reader:
    """Walks through one lot file, keeping its faults."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.faults: list[FilmstressError] = []

    def fault(self, message: str, where: str, hint: str = "") -> None:
        self.faults.append(LotError(message, where=where, hint=hint))

    def lot(self, data: Mapping[str, Any], sha256: str) -> LotSpec:
        where = str(self.path)
        for key in data:
            if key not in _TOP:
                self.fault(f"unknown key '{key}'", where, nearest(key, list(_TOP)))
        name = self.text(data, "lot", where, required=True)
        settings = Settings()
        self.tables(data, settings, where, f"lot {name}")
        specification = self.specification(data.get("specification"), where)
        entries = self.entries(data, where)
        wafers = [wafer for entry in entries if (wafer := self.wafer(entry, settings)) is not None]
        seen: set[str] = set()
        for wafer in wafers:
            if wafer.id in seen:
                self.fault(f"wafer '{wafer.id}' stands twice", where, "give each wafer one entry")
            seen.add(wafer.id)
        if self.faults:
            raise self.faults[0] if len(self.faults) == 1 else Faults(self.faults)
        return LotSpec(
            lot=name,
            recipe=self.text(data, "recipe", where),
            path=where,
            sha256=sha256,
            wafers=tuple(wafers),
            specification=specification,
            deposition=_flat(data.get("deposition", {})),
        )

    def text(self, data: Mapping[str, Any], key: str, where: str, *, required: bool = False) -> str:
        value = data.get(key, "")
        if not isinstance(value, str) or (required and not value.strip()):
            self.fault(f"'{key}' must be a text", where, f'write  {key} = "K7-0412"')
            return ""
        return value.strip()

    def tables(self, data: Mapping[str, Any], into: Settings, where: str, shared_by: str) -> None:
        """The tables and wafer keys that may stand at the lot's and at a wafer's level."""
        for table in _TABLES:
            values = data.get(table, {})
            if not isinstance(values, Mapping):
                self.fault(f"'{table}' must be a table", where, f"write [{table}] on its own line")
                continue
            read_table(
                values, table, where=where, shared_by=shared_by, into=into, faults=self.faults
            )
        own = {key: data[key] for key in keys_of("wafer") if key in data}
        read_table(own, "wafer", where=where, shared_by=shared_by, into=into, faults=self.faults)

    def specification(self, values: object, where: str) -> Specification | None:
        if values is None:
            return None
        if not isinstance(values, Mapping):
            self.fault("'specification' must be a table", where, "write [specification]")
            return None
        known = (*_LIMITS, "confidence", "sampling")
        found: dict[str, float] = {}
        for key, raw in values.items():
            place = f"{where}, specification.{key}"
            if key not in known:
                self.fault(
                    f"unknown key '{key}' in [specification]", where, nearest(key, list(known))
                )
            elif key == "sampling":
                self.fault("a sampling plan is not available yet", place, "leave it out for now")
            else:
                try:
                    kind = _CONFIDENCE if key == "confidence" else _STRESS
                    found[key] = read_quantity(raw, kind, where=place).value
                except FilmstressError as error:
                    self.faults.append(error)
        lower, upper = found.get("lower"), found.get("upper")
        if lower is not None and upper is not None and lower >= upper:
            self.fault("the lower limit is not below the upper one", where, "swap them?")
        if not any(key in found for key in _LIMITS):
            self.fault("[specification] has no limit", where, 'write  upper = "-150 MPa"')
        return Specification(**found)

    def entries(self, data: Mapping[str, Any], where: str) -> list[Mapping[str, Any]]:
        wafers, table = data.get("wafer"), data.get("wafers")
        if wafers is not None and table is not None:
            self.fault("both [[wafer]] and wafers are given", where, "keep the one or the other")
            return []
        if table is not None:
            if not isinstance(table, str):
                self.fault("'wafers' must name a table", where, 'write  wafers = "wafers.csv"')
                return []
            return read_wafer_table(self.path.parent / table, self.faults)
        if not isinstance(wafers, list) or not wafers:
            self.fault("no wafers", where, 'write [[wafer]] entries, or  wafers = "wafers.csv"')
            return []
        return wafers

    def wafer(self, entry: Mapping[str, Any], lot: Settings) -> WaferSpec | None:
        name = entry.get("id")
        if not isinstance(name, str) or not name.strip():
            self.fault("a wafer has no id", str(self.path), 'write  id = "01"')
            return None
        where = f"{self.path}, wafer {name}"
        own = Settings()
        self.tables(entry, own, where, f"wafer {name}")
        known = {*_TABLES, *keys_of("wafer"), "id", "scans"}
        direct = {key: value for key, value in entry.items() if key not in known}
        self.scan_keys(direct, own, where, f"wafer {name}", extra=sorted(known))
        scans = entry.get("scans")
        if not isinstance(scans, list) or not all(isinstance(scan, Mapping) for scan in scans):
            self.fault(
                "'scans' is missing or not a list",
                where,
                'write  scans = [{ azimuth = "0 deg", pre = "pre/01.csv", post = "post/01.csv" }]',
            )
            return None
        lines = [self.line(scan, f"{where}, scan {i}", name) for i, scan in enumerate(scans, 1)]
        try:
            return build_wafer(name, lot.overlaid(own), lines, base=self.path.parent)
        except Faults as faults:
            self.faults += [_placed(fault, where) for fault in faults.faults]
        except FilmstressError as error:
            self.faults.append(_placed(error, where))
        return None

    def line(self, scan: Mapping[str, Any], where: str, wafer: str) -> LineInput:
        settings = Settings()
        paths: dict[str, str | None] = {}
        for state in ("pre", "post"):
            path = scan.get(state)
            if path is not None and not isinstance(path, str):
                self.fault(
                    f"'{state}' must name a file", where, f'write  {state} = "{state}/01.csv"'
                )
                path = None
            paths[state] = path
        if paths["post"] is None:
            self.fault("the scan after deposition is missing", where, 'write  post = "post/01.csv"')
        rest = {key: value for key, value in scan.items() if key not in ("pre", "post")}
        self.scan_keys(rest, settings, where, f"wafer {wafer}", extra=["pre", "post"])
        return LineInput(settings, paths, where)

    def scan_keys(
        self,
        values: Mapping[str, Any],
        into: Settings,
        where: str,
        shared_by: str,
        *,
        extra: list[str],
    ) -> None:
        """Keys of [scan] that stand directly in a wafer or in an entry of scans."""
        known = keys_of("scan")
        good = {key: value for key, value in values.items() if split_state(key)[1] in known}
        for key in values:
            if key not in good:
                self.fault(f"unknown key '{key}'", where, nearest(key, [*extra, *known]))
        read_table(good, "scan", where=where, shared_by=shared_by, into=into, faults=self.faults)


def _placed(error: FilmstressError, where: str) -> FilmstressError:
    """The same fault, saying which wafer it was met in."""
    if where in error.where:
        return error
    place = f"{where} ({error.where})" if error.where else where
    return RefusedInput(error.message, where=place, hint=error.hint)


def _flat(values: object, prefix: str = "") -> tuple[tuple[str, str], ...]:
    if not isinstance(values, Mapping):
        return ()
    found: list[tuple[str, str]] = []
    for key, value in values.items():
        if isinstance(value, Mapping):
            found += _flat(value, f"{prefix}{key}.")
        else:
            found.append((f"{prefix}{key}", str(value)))
    return tuple(found)
