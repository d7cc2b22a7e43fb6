"""``from FILE`` in place of a film's thickness: what is read, and what is refused."""

from __future__ import annotations

import copy
import hashlib
import json
import math
import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.errors import RefusedInput
from filmstress.inputs.keys import keys_of
from filmstress.inputs.readers import Quantity, read_value, record_named
from filmstress.inputs.thickness_record import SCHEMA, read_thickness

READER = keys_of("film")["thickness"].reader
assert isinstance(READER, Quantity)
KIND = READER.kind
RECORD: dict[str, Any] = {
    "schema": SCHEMA,
    "filmstress": "0",
    "inputs": {"files": [{"file": "elsewhere/step/a.csv", "sha256": "ab" * 32}]},
    "thickness": {
        "value": 2e-7,
        "unit": "m",
        "standard_uncertainty": 1e-9,
        "degrees_of_freedom": 12,
    },
}


def write(folder: Path, data: object) -> str:
    path = folder / "01.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    return str(path)


def test_value_uncertainty_degrees_of_freedom_and_files(tmp_path: Path) -> None:
    path = write(tmp_path, RECORD)
    (tmp_path / "step").mkdir()
    (tmp_path / "step" / "a.csv").write_text("x", encoding="utf-8")
    measured, files = read_thickness(path, KIND, where="film.thickness")
    assert (measured.value, measured.unit, measured.u, measured.dof) == (2e-7, "m", 1e-9, 12.0)
    assert measured.read_as.startswith("from 01.json: ± 1 nm")
    own = hashlib.sha256(Path(path).read_bytes()).hexdigest()
    # The scan is found by the end of its path, from the record's folder.
    assert files == ((path, own), (str(tmp_path / "step" / "a.csv"), "ab" * 32))


def test_infinite_degrees_of_freedom_and_a_scan_that_is_gone(tmp_path: Path) -> None:
    data = copy.deepcopy(RECORD)
    data["thickness"]["degrees_of_freedom"] = None
    measured, files = read_thickness(write(tmp_path, data), KIND, where="")
    assert math.isinf(measured.dof)
    assert files[1] == ("elsewhere/step/a.csv", "ab" * 32)


WRONG: list[tuple[str, Any]] = [
    ("schema", "filmstress/measure/1"),
    ("schema", None),
    ("schema", ["filmstress/thickness/1"]),
    ("thickness", None),
    ("thickness", 2e-7),
    ("inputs", None),
    ("inputs", {"files": [{"file": "a.csv"}]}),
    ("thickness.unit", "nm"),
    ("thickness.value", "2e-7"),
    ("thickness.value", True),
    ("thickness.value", 2e-2),
    ("thickness.value", -2e-7),
    ("thickness.value", 0),
    ("thickness.value", 10**400),
    ("thickness.standard_uncertainty", 10**400),
    ("thickness.degrees_of_freedom", 10**400),
    ("thickness.interval", 2e-7),
    ("thickness.interval", [1.98e-7, 2.02e-7]),  # of an unknown coverage factor
    ("thickness.standard_uncertainty", None),
    ("thickness.standard_uncertainty", -1e-9),
    ("thickness.standard_uncertainty", 3e-7),
    ("thickness.degrees_of_freedom", 0.5),
    # Whole numbers in JSON have no largest one, floats have.
    ("thickness.value", 10**400),
    ("thickness.degrees_of_freedom", 10**400),
]


@pytest.mark.parametrize(("key", "value"), WRONG)
def test_what_is_no_thickness_record_is_refused(key: str, value: Any, tmp_path: Path) -> None:
    data = copy.deepcopy(RECORD)
    *above, last = key.split(".")
    holder = data
    for name in above:
        holder = holder[name]
    holder[last] = value
    with pytest.raises(RefusedInput) as refused:
        read_thickness(write(tmp_path, data), KIND, where="film.thickness")
    assert refused.value.where.startswith("film.thickness: ")
    assert "filmstress thickness" in refused.value.hint


@pytest.mark.parametrize("name", ["value", "standard_uncertainty", "coverage_factor"])
def test_a_record_whose_interval_says_something_else_is_refused(name: str, tmp_path: Path) -> None:
    data = copy.deepcopy(RECORD)
    data["thickness"] |= {"coverage_factor": 2.0, "interval": [1.98e-7, 2.02e-7]}
    read_thickness(write(tmp_path, data), KIND, where="")
    data["thickness"][name] *= 1.001 if name == "value" else 1.1
    with pytest.raises(RefusedInput, match="contradicts itself"):
        read_thickness(write(tmp_path, data), KIND, where="")


@pytest.mark.parametrize(
    "raw",
    [b"", b"[]", b"[" * 100_000, b"\xff\xfe\x00", b'{"schema": NaN}', b"x,z\n1,2\n", b"{}"],
)
def test_other_files_are_refused(raw: bytes, tmp_path: Path) -> None:
    path = tmp_path / "01.json"
    path.write_bytes(raw)
    with pytest.raises(RefusedInput):
        read_thickness(str(path), KIND, where="")


def test_a_number_that_json_does_not_know_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "01.json"
    path.write_text(json.dumps(RECORD).replace("1e-09", "NaN"), encoding="utf-8")
    with pytest.raises(RefusedInput, match="JSON"):
        read_thickness(str(path), KIND, where="")


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path in (tmp_path / "none.json", tmp_path, pipe, "a\0b"):
        with pytest.raises(RefusedInput):
            read_thickness(str(path), KIND, where="")


@given(st.binary(max_size=300))
def test_no_bytes_break_it(tmp_path_factory: pytest.TempPathFactory, raw: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "any.json"
    path.write_bytes(raw)
    with pytest.raises(RefusedInput):
        read_thickness(str(path), KIND, where="")


def test_the_form_of_the_text() -> None:
    assert record_named("from step/01.json") == "step/01.json"
    assert record_named("  From  my folder/01.json ") == "my folder/01.json"
    for other in ("500 nm", "fromage.json", "from", "from ", 5e-7, None):
        assert record_named(other) is None
    assert read_value("from 01.json", READER, where="") == "01.json"
