"""Every setting as it was read, for the echo."""

from __future__ import annotations

from collections.abc import Iterator

from filmstress.records.quantity import Measured
from filmstress.records.wafer import ScanSpec, WaferSpec
from filmstress.report.words import say_input

_STATES = {"pre": "before", "post": "after"}
_FACES = {"up": "up, on the scanned face", "down": "down, on the face not scanned"}


def setting_rows(wafer: WaferSpec) -> Iterator[tuple[str, str]]:
    """Label and text of each setting, in the order of the keys.

    The substrate's name is left to the caller, who knows its modulus.
    """
    for name, written in wafer.settings:
        if name not in {"substrate.material", "film.face"}:
            yield _label(name), _read(wafer, name) or written
    yield "film face", _FACES[wafer.film.face.value]


def _label(name: str) -> str:
    """``film.thickness`` -> "film thickness", ``scans.2.pre_origin`` -> "line 2, origin before"."""
    table, _, key = name.partition(".")
    line, _, own = key.partition(".")
    key, lead = (own, f"line {line}, ") if own else (key, "")
    if table in {"substrate", "film"} and key not in {"azimuth_reference", "diameter", "miscut"}:
        lead = f"{table} "
    state, _, rest = key.partition("_")
    behind = ""
    if state in _STATES and rest:
        key, behind = rest, f" {_STATES[state]}"
    return f"{lead}{key.replace('_', ' ')}{behind}"


def _read(wafer: WaferSpec, name: str) -> str:
    """A quantity's value and how its uncertainty was read; empty where there is no value."""
    table, _, key = name.partition(".")
    holder: object
    if table == "substrate":
        holder = wafer.substrate
    elif table == "film":
        holder = wafer.film
    elif key == "bare_bow":
        holder = wafer
    else:
        line, _, own = key.partition(".")
        key = own or key
        state, _, rest = key.partition("_")
        key = rest if state in _STATES and rest else key
        holder = _scan(wafer, int(line) - 1 if own else 0, state if state in _STATES else "")
    measured = getattr(holder, key, None)
    if not isinstance(measured, Measured) or key.endswith("repeatability"):
        return ""
    return say_input(measured)


def _scan(wafer: WaferSpec, line: int, state: str) -> ScanSpec:
    """The scan that a setting speaks of; of several, the last."""
    states = wafer.lines[line].states
    return next((one.scan for one in states if one.name == state), states[-1].scan)
