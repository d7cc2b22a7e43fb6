"""Every setting as it was read, for the echo."""

from __future__ import annotations

from collections.abc import Iterator

from filmstress.records.quantity import Measured
from filmstress.records.wafer import ScanSpec, WaferSpec
from filmstress.report.words import say_input

_STATES = {
    "pre": " before",
    "post": " after",
    "weight_first": ", weight first",
    "weight_second": ", weight second",
}
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
    state, rest = _state_of(key)
    behind = ""
    if state:
        key, behind = rest, _STATES[state]
    return f"{lead}{key.replace('_', ' ')}{behind}"


def _read(wafer: WaferSpec, name: str) -> str:
    """A quantity's value and how its uncertainty was read; empty where there is no value."""
    table, _, key = name.partition(".")
    holder: object
    if table == "substrate":
        holder = wafer.substrate
    elif table == "film":
        holder = wafer.film
    elif key in {"bare_bow", "gravity"}:
        holder = wafer
    else:
        line, _, own = key.partition(".")
        key = own or key
        state, key = _state_of(key)
        holder = _scan(wafer, int(line) - 1 if own else 0, state)
    measured = getattr(holder, key, None)
    if not isinstance(measured, Measured) or key.endswith("repeatability"):
        return ""
    return say_input(measured)


def _state_of(key: str) -> tuple[str, str]:
    """State and rest: ``post_origin`` -> "post", "origin"; the state "" speaks of all."""
    for state in _STATES:
        rest = key.removeprefix(f"{state}_")
        if rest != key:
            return state, rest
    return "", key


def _scan(wafer: WaferSpec, line: int, state: str) -> ScanSpec:
    """The scan that a setting speaks of; of several, the last."""
    states = wafer.lines[line].states
    all_states = (*states, *wafer.lines[line].weight)
    return next((one.scan for one in all_states if one.name == state), states[-1].scan)
