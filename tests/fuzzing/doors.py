"""Doors by which a file gets into the program, and the numbers that it gives behind them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from filmstress.errors import QuantityError
from filmstress.inputs.keys import all_keys
from filmstress.inputs.readers import Quantity, QuantityRange
from filmstress.units.quantity import read_quantity, read_range
from tests.cli._run import Ended, run

_FILM = (
    *("--substrate", "Si(001)", "--substrate-thickness", "675 um ± 2 um"),
    *("--film-thickness", "500 nm ± 2 %"),
)


@dataclass(frozen=True, slots=True)
class Answer:
    """What a door gave: values, each with its expanded uncertainty, and what was said beside."""

    values: tuple[tuple[float | None, float | None], ...]
    said: frozenset[str]


@dataclass(frozen=True, slots=True)
class Door:
    """What the program is asked to do with a file.

    ``runs`` gives how the calls ended; ``answer`` finds the number in the data of the last one.
    """

    runs: Callable[[Path], Iterator[Ended]]
    answer: Callable[[Any], Answer] | None = None


def _asked(*words: str) -> Callable[[Path], Iterator[Ended]]:
    def runs(file: Path) -> Iterator[Ended]:
        told = {"FILE": str(file), "DIR": str(file.parent)}
        yield run(*(told.get(word, word).replace("DIR/", f"{file.parent}/") for word in words))

    return runs


def _number(found: Any) -> tuple[float | None, float | None]:
    return (found["value"], found["expanded_uncertainty"]) if found else (None, None)


def _of_files(files: list[Any]) -> set[str]:
    """What is said of files that were read."""
    notes = {note for file in files for note in file.get("notes", [])}
    left_out = {one["reason"] for file in files for one in file.get("left_out", [])}
    return notes | left_out


def _notices(data: Any) -> set[str]:
    return {f"{one['code']} {one['message'][:40]}" for one in data["warnings"]}


def _curvatures(data: Any) -> Answer:
    scans = data["scans"]
    said = _of_files(scans).union(*(_notices(scan) for scan in scans))
    return Answer(tuple(_number(scan["curvature"]) for scan in scans), frozenset(said))


def _stress(data: Any) -> Answer:
    said = _notices(data) | _of_files(data["inputs"].get("files", []))
    return Answer((_number(data["stress"]),), frozenset(said))


def _stresses(data: Any) -> Answer:
    wafers = [_stress(wafer) for wafer in data["wafers"]]
    said = _notices(data).union(*(wafer.said for wafer in wafers))
    values = tuple(value for wafer in wafers for value in wafer.values)
    return Answer(values, frozenset(said))


def _thickness(data: Any) -> Answer:
    said = _notices(data) | _of_files(data["inputs"]["files"])
    said |= {f"{len(data['steps'])} steps", *(f"a {step['kind']}" for step in data["steps"])}
    return Answer((_number(data["thickness"]),), frozenset(said))


def _spread(data: Any) -> Answer:
    sd, (_, high) = data["gauge"]["standard_deviation"]["value"], data["gauge"]["interval"]
    wide = None if high is None else high - sd
    return Answer(((sd, wide),), frozenset(_notices(data) | set(data["remarks"])))


def _exported(*which: str) -> Callable[[Path], Iterator[Ended]]:
    return lambda file: _written_anew(file, which)


def _written_anew(file: Path, which: tuple[str, ...]) -> Iterator[Ended]:
    """A scan written in both formats must be read again as it was."""
    inspected = run("inspect", str(file), *which, "--json")
    read = inspected.data["scans"] if inspected.code == 0 else []
    for form in ("x3p", "csv"):
        copy = file.parents[1] / f"copy.{form}"
        to = ("--to", form, "--out", str(copy), "--force")
        exported = run("export", str(file), *which, *to, "--json")
        yield exported
        # Of several scans one must be chosen, of a map a line.
        if exported.code or len(read) != 1:
            continue
        again = run("inspect", str(copy), "--json")
        assert again.code == 0, again.err
        for name in ("curvature", "length", "points", "masked_share"):
            found = again.data["scans"][0][name]
            assert found == read[0][name], f"{form}: {name} {read[0][name]} read again as {found}"


def _history(file: Path) -> Iterator[Ended]:
    place = file.with_name("history.sqlite")
    place.unlink(missing_ok=True)
    imported = run("history", "import", str(file), "--history", str(place))
    yield imported
    if imported.code:
        return
    for words in (
        ("history", "lots", "--json"),
        ("history", "wafers", "--csv"),
        ("history", "recipes"),
        ("history", "check"),
        ("history", "show", "1"),
        ("sweep", "nitride", "--parameter", "pressure"),
        ("chart", "nitride"),
        ("compare", "nitride", "oxide"),
    ):
        yield run(*words, "--history", str(place))


def _quantities(file: Path) -> Iterator[Ended]:
    text = file.read_bytes().decode("utf-8", "replace")
    refused, read = "", False
    for key in all_keys():
        try:
            if isinstance(key.reader, Quantity):
                read_quantity(text, key.reader.kind, where="here")
            elif isinstance(key.reader, QuantityRange):
                read_range(text, key.reader.kind, where="here")
            else:
                continue
            read = True
        except QuantityError as error:
            refused = str(error)
            assert "\x1b" not in refused
            assert len(refused) < 3000
    yield Ended(0 if read else 3, "", refused)


DOORS = {
    "inspect": Door(_asked("inspect", "FILE", "--json"), _curvatures),
    "inspect, second layer": Door(_asked("inspect", "FILE", "--trace", "2", "--json"), _curvatures),
    "measure": Door(_asked("measure", "DIR/pre.csv", "FILE", *_FILM, "--json"), _stress),
    "measure, third scan": Door(
        _asked("measure", "DIR/pre.csv", "FILE", "--post-trace", "3", *_FILM, "--json"), _stress
    ),
    "measure, map": Door(_asked("measure", "DIR/pre.sdf", "FILE", *_FILM, "--json"), _stress),
    "thickness": Door(_asked("thickness", "FILE", "--json"), _thickness),
    "export": Door(_exported()),
    "export, second layer": Door(_exported("--trace", "2")),
    "export, line of a map": Door(_exported("--azimuth", "30 deg")),
    "lot --check": Door(_asked("lot", "FILE", "--check", "--json")),
    "lot": Door(_asked("lot", "FILE", "--json")),
    "wafer table": Door(_asked("lot", "DIR/lot.toml", "--json")),
    "in a lot": Door(_asked("lot", "DIR/lot.toml", "--json"), _stresses),
    "stack": Door(_asked("stack", "FILE", "--json")),
    "gauge": Door(_asked("gauge", "FILE", "--json"), _spread),
    "gauge of scans": Door(_asked("gauge", "DIR/study.csv", "--json"), _spread),
    "verify": Door(_asked("verify", "FILE", "--json")),
    "history": Door(_history),
    "quantity": Door(_quantities),
}
