"""The lot file: what it may hold, and every fault of it at once."""

from __future__ import annotations

import hashlib
import pickle
import tomllib
from pathlib import Path
from typing import Any

import pytest

from filmstress.errors import Faults, FilmstressError
from filmstress.inputs.keys import WEIGHINGS, all_keys
from filmstress.lots.manifest import read_lot
from filmstress.records.lot import LotSpec
from filmstress.records.wafer import Support
from tests.lots.writing import MINIMAL, listed

# The lot file of the documentation, every table and kind of entry in it.
FULL = """\
lot = "K7-0412"
recipe = "nitride-low-stress"
[substrate]
material = "Si(001)"        # name(plane) from the table
azimuth_reference = "[110]" # crystal direction of the 0 deg scan
diameter = "150 mm"
thickness = "675 um ± 2 um"
[film]
material = "silicon nitride"
thickness = "500 nm ± 1 %"
modulus = "260 GPa ± 20 GPa"
face = "up"
uncoated_ring = "3 mm"
faces = "one"
[scan]
support = "three-points"
position_scale_uncertainty = "0.1 %"
height_scale_uncertainty = "0.5 %"
bow_repeatability = "15 nm"
origin = "-40 mm"
datum = "flat.csv"
instrument = "S2"
operator = "MK"
date = 2026-03-14
temperature = "22 degC"
height_up = true
[specification]
lower = "-250 MPa"
upper = "-150 MPa"
confidence = 0.9
spread_max = "20 MPa"
within_max = "10 MPa"
[deposition]
tool = "PX-2"
pressure = "0.6 Pa"
[[wafer]]
id = "01"
film.thickness = "503 nm ± 3 nm"
scans = [
  { azimuth = "0 deg",  pre = "pre/01-000.csv", post = "post/01-000.csv" },
  { azimuth = "90 deg", pre = "pre/01-090.csv", post = "post/01-090.csv" },
  { azimuth = "90 deg", pre = "pre/01-2.csv", post = "post/01-2.csv", post_azimuth = "270 deg" },
]
[[wafer]]
id = "02"
role = "witness"
reference = "stripped"
post_support = "rim"
scan.bow_repeatability = "20 nm"
scans = [{ pre = "../x/02.csv", post = "post/02.csv", post_origin = "-38 mm", support = "free" }]
"""


def write(folder: Path, text: str) -> Path:
    path = folder / "lot.toml"
    path.write_text(text, encoding="utf-8")
    return path


def read(folder: Path, text: str) -> LotSpec:
    return read_lot(write(folder, text))


def faults_of(folder: Path, text: str) -> list[FilmstressError]:
    with pytest.raises(FilmstressError) as caught:
        read(folder, text)
    return listed(caught.value)


def test_the_lot_file_of_the_documentation(tmp_path: Path) -> None:
    lot = read(tmp_path, FULL)
    assert (lot.lot, lot.recipe) == ("K7-0412", "nitride-low-stress")
    assert lot.path == str(tmp_path / "lot.toml")
    assert lot.sha256 == hashlib.sha256(FULL.encode()).hexdigest()
    assert lot.table is None
    specification = lot.specification
    assert specification is not None
    assert (specification.lower, specification.upper) == (-250e6, -150e6)
    assert (specification.spread_max, specification.within_max) == (20e6, 10e6)
    assert specification.confidence == 0.9
    assert {p.name: p.text for p in lot.deposition} == {"tool": "PX-2", "pressure": "0.6 Pa"}
    first, second = lot.wafers
    assert (first.id, second.id) == ("01", "02")
    assert first.film.thickness is not None
    assert second.film.thickness is not None
    assert first.film.thickness.value == pytest.approx(503e-9)
    assert first.film.thickness_common_to == "wafer 01"
    assert second.film.thickness.value == pytest.approx(500e-9)
    assert second.film.thickness_common_to == "lot K7-0412"
    assert first.substrate.thickness_common_to == "lot K7-0412"
    assert (first.role, second.role) == ("product", "witness")
    assert (first.reference, second.reference) == ("before", "stripped")
    assert len(first.lines) == 3
    assert first.lines[2].states[1].scan.azimuth.value > first.lines[2].azimuth.value
    pre, post = (state.scan for state in second.lines[0].states)
    assert pre.path == str(tmp_path / "../x/02.csv")
    # The entry's "support" is more particular than the wafer's "post_support".
    assert (pre.support, post.support) == (Support.FREE, Support.FREE)
    assert pre.origin is not None
    assert post.origin is not None
    assert (pre.origin.value, post.origin.value) == (-0.040, -0.038)
    assert pre.bow_repeatability.u == pytest.approx(20e-9)
    assert pre.datum == str(tmp_path / "flat.csv")
    assert dict(pre.labels) == {
        "instrument": "S2", "operator": "MK", "date": "2026-03-14", "temperature": "22 degC",
    }  # fmt: skip


def test_a_small_lot_file_is_enough(tmp_path: Path) -> None:
    lot = read(tmp_path, MINIMAL)
    assert lot.recipe == ""
    assert lot.specification is None
    assert lot.deposition == ()
    assert lot.wafers[0].film.thickness is None


def examples() -> list[Any]:
    cases = []
    for key in all_keys():
        if key.name in WEIGHINGS:
            # Neither stands alone, and both want supports: tests/inputs/test_weighing.py.
            continue
        reader = key.reader
        match reader:
            case _ if hasattr(reader, "kind"):
                text = reader.kind.example
            case _ if hasattr(reader, "words"):
                text = reader.words[0]
            case _:
                text = reader.example
        cases.append(pytest.param(key, text, id=key.full_name))
    return cases


@pytest.mark.parametrize(("key", "text"), examples())
def test_every_key_may_stand_at_its_levels(tmp_path: Path, key: Any, text: str) -> None:
    """At the lot's level, a wafer's, and those of scans in an entry and with both prefixes."""
    if key.table == "substrate":
        # Constants and material exclude each other.
        common = {"thickness": '"675 um"'}
        if key.name in ("youngs_modulus", "poisson_ratio", "density"):
            common |= {"youngs_modulus": '"70 GPa"', "poisson_ratio": '"0.2"'}
        elif key.name != "modulus":
            common["material"] = '"Si(001)"'
    else:
        common = {"thickness": '"675 um"', "material": '"Si(001)"'}
    film = {"youngs_modulus": '"200 GPa"', "poisson_ratio": '"0.2"'}
    film = film if key.table == "film" and key.name in film else {}
    toml = f'"{text}"'

    def lot_text(
        substrate: dict[str, str],
        film: dict[str, str],
        top: str = "",
        wafer: str = "",
        scan: str = "",
    ) -> str:
        return (
            f'lot = "L"\n{top}\n'
            + "[substrate]\n"
            + "".join(f"{k} = {v}\n" for k, v in substrate.items())
            + "[film]\n"
            + "".join(f"{k} = {v}\n" for k, v in film.items())
            + f'[[wafer]]\nid = "1"\n{wafer}\nscans = [{{ pre = "a", post = "b"{scan} }}]\n'
        )  # fmt: skip

    tables = {"substrate": common, "film": film}
    if key.table in tables:
        tables[key.table] = {**tables[key.table], key.name: toml}
        lot = read(tmp_path, lot_text(tables["substrate"], tables["film"]))
        own = lot_text(common, film, wafer=f"{key.full_name} = {toml}")
        assert read(tmp_path, own).wafers
        assert dict(lot.wafers[0].settings)[key.full_name] == text
        return
    if key.table == "wafer":
        for place in ({"top": f"{key.name} = {toml}"}, {"wafer": f"{key.name} = {toml}"}):
            assert read(tmp_path, lot_text(common, {}, **place)).wafers
        return
    names = [key.name, *([f"pre_{key.name}", f"post_{key.name}"] if key.per_scan else [])]
    for name in names:
        for place in (
            {"top": f"[scan]\n{name} = {toml}"},
            {"wafer": f"scan.{name} = {toml}"},
            {"wafer": f"{name} = {toml}"},
            {"scan": f", {name} = {toml}"},
        ):
            if key.name == "azimuth" and name != "azimuth":
                continue  # the two scans of a line have one direction
            assert read(tmp_path, lot_text(common, {}, **place)).wafers, name


@pytest.mark.parametrize("place", ["top", "scan table", "wafer", "entry"])
def test_bare_bow_and_reference_may_stand_at_any_level(tmp_path: Path, place: str) -> None:
    stated = {"bare_bow": '"0 um ± 15 um"', "reference": '"stripped"'}
    at = dict.fromkeys(("top", "scan table", "wafer", "entry"), "")
    separator = ", " if place == "entry" else "\n"
    at[place] = separator.join(f"{name} = {value}" for name, value in stated.items())
    text = (
        f'lot = "L"\n{at["top"]}\n[substrate]\nmaterial = "Si(001)"\nthickness = "675 um"\n'
        f'[scan]\n{at["scan table"]}\n[[wafer]]\nid = "1"\n{at["wafer"]}\n'
        f'scans = [{{ post = "b"{separator + at["entry"] if at["entry"] else ""} }}]\n'
    )
    (wafer,) = read(tmp_path, text).wafers
    assert wafer.bare_bow is not None
    assert wafer.bare_bow.u == pytest.approx(15e-6)
    assert wafer.reference == "stripped"


BROKEN = """\
lot = 412
recipie = "x"
[substrate]
material = "Si(001)"
thicknes = "675 um"
diameter = "675"
[film]
thickness = "500"
diameter = "3 mm"
[scan]
post_suport = "rim"
support = "floating"
[specification]
lower = "-150 MPa"
upper = "-250 MPa"
confidance = 0.9
sampling = "x"
[[wafer]]
id = 1
support_radius = "5 m"
scans = [{ pre = "a", post = "b" }]
[[wafer]]
id = "02"
film_thickness = "3 nm"
scans = [{ azimuth = "0", pre = "a" }]
[[wafer]]
id = "03"
film.modulus = "260 GPa"
film.youngs_modulus = "200 GPa"
film.poisson_ratio = 0.2
scans = "none"
"""


def test_all_faults_are_told_at_once_with_place_and_remedy(tmp_path: Path) -> None:
    told = {(fault.where.removeprefix(str(tmp_path / "lot.toml")), fault.message): fault.hint
            for fault in faults_of(tmp_path, BROKEN)}  # fmt: skip
    for where, words, hint in [
        (", lot", "412 came, a text is wanted", "K7-0412"),
        ("", "unknown key 'recipie'", "did you mean 'recipe'?"),
        ("", "unknown key 'thicknes' in [substrate]", "did you mean 'thickness'?"),
        (", substrate.diameter", "'675' has no unit", "150 mm"),
        (", film.thickness", "'500' has no unit", "500 nm"),
        ("", "unknown key 'diameter' in [film]", "did you mean 'substrate.diameter'?"),
        ("", "unknown key 'post_suport' in [scan]", "did you mean 'post_support'?"),
        (", scan.support", "'floating' came", "three-points"),
        (", specification", "lower limit -150 MPa is not below the upper one -250 MPa", "-250"),
        (", specification", "unknown key 'confidance'", "did you mean 'confidence'?"),
        (", specification.sampling", "'x' came, a table is wanted", "content ="),
        (", wafer entry 1, id", "1 came", "'01'"),
        (", wafer entry 1, scan.support_radius", "outside the plausible range", ""),
        (", wafer 02", "unknown key 'film_thickness'", "did you mean 'film.thickness'?"),
        (", wafer 02, scan 1", "the scan after deposition is missing", "such as 'post/01.csv'"),
        (", wafer 02, scan 1, scan.azimuth", "'0' has no unit", "deg"),
        (", wafer 03, scans", "'none' came; a list of scans is wanted", "scans = [{"),
    ]:
        matching = [
            text for (place, message), text in told.items() if place == where and words in message
        ]
        assert matching, (where, words, told)
        assert hint in matching[0]
    # One fault of the lot's own level is told once, not once a wafer.
    assert len([1 for _, message in told if "'500' has no unit" in message]) == 1
    # A key that is mistyped is not told as missing too.
    assert not [message for _, message in told if "thickness is not stated" in message]


def test_a_fault_common_to_all_wafers_is_told_once_for_all(tmp_path: Path) -> None:
    wafers = "".join(
        f'[[wafer]]\nid = "{i:02}"\nscans = [{{ pre = "a", post = "b" }}]\n' for i in range(1, 4)
    )
    (fault,) = faults_of(tmp_path, f'lot = "L"\n[substrate]\nmaterial = "Si(001)"\n{wafers}')
    assert fault.where == f"{tmp_path / 'lot.toml'}, wafers 01, 02, 03"
    assert "thickness is not stated" in fault.message


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "the lot is not named"),
        ('lot = ""', "an empty text came"),
        ('lot = "L"', "no wafers are named"),
        ('lot = "L"\nwafer = []', "no wafers are named"),
        ('lot = "L"\n[wafer]\nid = "1"', "a table came; a list of wafers is wanted"),
        ('lot = "L"\nwafer = [1]', "1 came"),
        ('lot = "L"\nwafers = 3', "3 came, the name of a table is wanted"),
        ('lot = "L"\nwafers = "no.csv"', "No such file"),
        ('lot = "L"\nwafers = "a\\u0000b"', "cannot be printed"),
        ('lot = "L"\nwafers = "t.csv"\n[[wafer]]\nid = "1"', "both in [[wafer]] and in a table"),
        ('lot = "L"\nsubstrate = "Si(001)"', "'Si(001)' came, a table is wanted"),
        ('lot = "L"\nspecification = 3', "3 came, a table is wanted"),
        ('lot = "L"\ndeposition = ["PX-2"]', "a list came, a table is wanted"),
        ("lot = ", "not TOML"),
        ("[[a]]\n[a]", "not TOML"),
        ("a = 2026-02-31", "not TOML"),
        (f"a = {'9' * 5000}", "not TOML"),
        (f"a = {'[' * 5000}", "not TOML: nested too deep"),
        (f'lot = "L"\ndeposition.{".".join("a" * 5000)} = 1', "nested too deep"),
        (f"{MINIMAL}\n[[wafer]]\nid = '01'\nscans = [{{pre='c', post='d'}}]", "stands twice"),
        (MINIMAL.replace('id = "01"', ""), "the wafer has no id"),
        (MINIMAL.replace('"01"', '" "'), "an empty text came, a name as a text is wanted"),
        (MINIMAL.replace('"01"', '"a\\u001b[2J"'), "cannot be printed"),
        (MINIMAL.replace('pre = "a.csv", ', ""), "the scan before deposition is missing"),
        (MINIMAL.replace('"b.csv"', "7"), "7 came, the name of a file is wanted"),
        (MINIMAL.replace('"b.csv"', '""'), "an empty text came, the name of a file is wanted"),
        (MINIMAL.replace('"b.csv" }]', '"b.csv" }, 3]'), "a list came; a list of scans"),
        (MINIMAL.replace("scans = [{", "scans = [] #"), "no scans are named"),
        (MINIMAL.replace('[{ pre = "a.csv"', '[{ thickness = "1 um"'), "unknown key 'thickness'"),
        (MINIMAL + 'support = "rim"\nscan.support = "rim"', "the same key is stated twice"),
    ],
)  # fmt: skip
def test_faults_of_a_lot_file(tmp_path: Path, text: str, words: str) -> None:
    faults = faults_of(tmp_path, text)
    found = [fault for fault in faults if words in fault.message]
    assert found, [str(fault) for fault in faults]
    assert found[0].where.startswith(str(tmp_path))
    assert found[0].hint


def test_faults_and_lots_cross_processes(tmp_path: Path) -> None:
    lot = read(tmp_path, FULL)
    assert pickle.loads(pickle.dumps(lot)) == lot
    with pytest.raises(Faults) as caught:
        read(tmp_path, BROKEN)
    again = pickle.loads(pickle.dumps(caught.value))
    assert str(again) == str(caught.value)
    assert len(again.faults) == len(caught.value.faults)


def test_numbers_may_be_numbers_where_they_have_no_unit(tmp_path: Path) -> None:
    text = MINIMAL + 'film.youngs_modulus = "200 GPa"\nfilm.poisson_ratio = 0.28\n'
    (wafer,) = read(tmp_path, text).wafers
    assert wafer.film.poisson_ratio is not None
    assert wafer.film.poisson_ratio.value == 0.28


def test_the_example_of_the_documentation_is_toml() -> None:
    assert tomllib.loads(FULL)["wafer"][0]["film"]["thickness"] == "503 nm ± 3 nm"
