"""The demo lots: drawn anew byte for byte, honest in what they state, and each trouble in them."""

from __future__ import annotations

import csv
import math
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest

from filmstress.errors import RefusedInput
from filmstress.lots.manifest import read_lot
from filmstress.measure.thickness import measure_thickness
from filmstress.simulate.demo import write_demo
from filmstress.simulate.demo_lots import LOTS
from filmstress.simulate.pair import simulate_wafer
from filmstress.simulate.truth_file import read_truths
from filmstress.stacks.measuring import measure_stack
from filmstress.stacks.reading import stack_of_text

DEMO = Path(__file__).parents[2] / "data" / "demo"
FOLDERS = sorted(lot.name for lot in LOTS)


def lot_file(folder):
    return tomllib.loads((DEMO / folder / "lot.toml").read_text("utf-8"))


def scan_rows(folder):
    """One mapping a line, from [[wafer]] or from the table in its place."""
    lot = lot_file(folder)
    if "wafers" in lot:
        with (DEMO / folder / lot["wafers"]).open(encoding="utf-8", newline="") as file:
            return [
                {
                    "wafer": row["wafer"],
                    "azimuth": float(row["azimuth [deg]"]),
                    "pre": row["pre"],
                    "post": row["post"],
                    "film": (row["film_thickness [nm]"], row["film_thickness_u [nm]"]),
                    "substrate": (
                        row["substrate_thickness [um]"],
                        row["substrate_thickness_u [um]"],
                    ),
                }
                for row in csv.DictReader(file)
            ]
    return [
        {
            "wafer": wafer["id"],
            "azimuth": float(scan["azimuth"].removesuffix(" deg")),
            "pre": scan["pre"],
            "post": scan["post"],
            "film": stated(lot["film"]["thickness"], "nm"),
            "substrate": stated(wafer["substrate"]["thickness"], "um"),
        }
        for wafer in lot["wafer"]
        for scan in wafer["scans"]
    ]


def stated(text, unit):
    return re.fullmatch(rf"([0-9.]+) {unit} ± ([0-9.]+) {unit}", text).groups()


def heights_um(path):
    """Heights of a demo file, by the few layouts it can have; NaN where there is none."""
    lines = path.read_text("utf-8").splitlines()
    in_nm = any(re.search(r"height.*\bnm\b", line, re.IGNORECASE) for line in lines[:5])
    numbers = [line for line in lines if re.fullmatch(r"[-0-9.,; \tNa]+", line)]
    comma = ";" in numbers[0]
    cells = [re.split(r"[; \t]" if comma else r"[, \t]", line)[-1] for line in numbers]
    values = [float(cell.replace(",", ".") or "nan") for cell in cells]
    return np.array(values) * (1e-3 if in_nm else 1.0)


def test_demo_is_drawn_anew_byte_for_byte(tmp_path):
    written = write_demo(tmp_path / "demo")
    drawn = {path.relative_to(tmp_path / "demo"): path.read_bytes() for path in written}
    kept = {path.relative_to(DEMO): path.read_bytes() for path in DEMO.rglob("*") if path.is_file()}
    assert drawn.keys() == kept.keys()
    assert [str(path) for path in kept if kept[path] != drawn[path]] == []
    assert sum(map(len, kept.values())) < 3e6


def test_demo_is_never_drawn_over_something(tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(RefusedInput, match="is not empty, and nothing in it is written over\n"):
        write_demo(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]
    with pytest.raises(RefusedInput, match=r"notes\.txt: cannot be written"):
        write_demo(tmp_path / "notes.txt")


@pytest.mark.parametrize("folder", FOLDERS)
def test_every_file_that_a_lot_names_is_there_and_no_other(folder):
    named = {row[state] for row in scan_rows(folder) for state in ("pre", "post")}
    there = {
        path.relative_to(DEMO / folder).as_posix()
        for state in ("pre", "post")
        for path in (DEMO / folder / state).iterdir()
    }
    assert named == there
    assert len(named) == 2 * len(scan_rows(folder))


@pytest.mark.parametrize("folder", FOLDERS)
def test_lot_file_states_what_is_true_of_the_lot(folder):
    lot, truths = lot_file(folder), read_truths(DEMO / folder / "truth.toml")
    assert lot["lot"] == folder
    for truth in truths.values():
        assert lot["substrate"]["material"] == truth.substrate
        assert lot["substrate"]["azimuth_reference"] == truth.azimuth_reference
        assert lot["substrate"]["diameter"] == f"{truth.diameter_m * 1e3:g} mm"
        scan = lot["scan"]
        assert scan["bow_repeatability"] == f"{truth.bow_repeatability_m * 1e9:g} nm"
        assert scan["offset_repeatability"] == f"{truth.offset_repeatability_m * 1e6:g} um"
        # The scan is centred: where the files do not start at zero the origin says so.
        centred = -truth.first_x_m - 0.5 * truth.scan_length_m
        assert scan.get("origin", f"{centred * 1e3:g} mm") == f"{centred * 1e3:g} mm"
        assert ("origin" in scan) == (truth.first_x_m != 0.0)
    for row in scan_rows(folder):
        azimuths = read_truths(DEMO / folder / "truth.toml")[row["wafer"]].azimuths_rad
        assert math.radians(row["azimuth"]) in azimuths


def test_stated_values_err_as_their_uncertainty_says():
    errors = []
    for folder in FOLDERS:
        scan, truths = lot_file(folder)["scan"], read_truths(DEMO / folder / "truth.toml")
        for row in {row["wafer"]: row for row in scan_rows(folder)}.values():
            truth = truths[row["wafer"]]
            for name, true in (
                ("film", truth.film_thickness_m * 1e9),
                ("substrate", truth.substrate_thickness_m * 1e6),
            ):
                value, u = map(float, row[name])
                errors.append((value - true) / u)
        for name, scale in (
            ("position", truth.position_scale),
            ("height", truth.height_scale),
        ):
            u = float(scan[f"{name}_scale_uncertainty"].removesuffix(" %")) / 100.0
            errors.append((scale - 1.0) / u)
    assert max(map(abs, errors)) < 3.0
    assert 0.5 < math.sqrt(np.mean(np.square(errors))) < 1.5


@pytest.mark.parametrize("folder", FOLDERS)
def test_files_hold_the_scans_of_the_truth(folder):
    truths = read_truths(DEMO / folder / "truth.toml")
    for row in scan_rows(folder):
        pairs = simulate_wafer(truths[row["wafer"]])
        (pair,) = (p for p in pairs if math.degrees(p.azimuth_rad) == row["azimuth"])
        for state, trace in (("pre", pair.pre_trace), ("post", pair.post_trace)):
            read = heights_um(DEMO / folder / row[state])
            np.testing.assert_allclose(read, trace.z * 1e6, rtol=0.0, atol=0.5001e-4)


def test_true_stresses_lie_where_the_readme_says():
    def stresses(folder):
        truths = read_truths(DEMO / folder / "truth.toml")
        return {wafer: truth.mean_stress_pa / 1e6 for wafer, truth in truths.items()}

    good, near, far = stresses("N24-03"), stresses("N24-04"), stresses("M24-11")
    assert (min(good.values()), max(good.values())) == (185.0, 194.0)
    assert (min(near.values()), max(near.values())) == (219.0, 229.0)
    assert (max(far.values()), min(far.values())) == (-548.0, -668.0)
    assert [wafer for wafer, stress in far.items() if not -620.0 < stress < -480.0] == ["D"]
    for folder in ("N24-03", "N24-04"):
        limits = lot_file(folder)["specification"]
        assert (limits["lower"], limits["upper"]) == ("150 MPa", "230 MPa")


def test_dust_lies_on_wafer_03_of_the_good_lot():
    def steepest(path):
        return np.abs(np.diff(heights_um(path), 2)).max()

    for line in ("000", "090"):
        # Noise of 4 nm and waviness make second differences of some 30 nm; a particle hundreds.
        assert steepest(DEMO / "N24-03" / "post" / f"03-{line}.csv") > 0.3
        assert steepest(DEMO / "N24-03" / "pre" / f"03-{line}.csv") < 0.05


def test_post_scan_of_wafer_c_runs_from_the_other_end():
    texture = {}
    for state in ("pre", "post"):
        z = heights_um(DEMO / "M24-11" / state / "C-000.csv")
        x = np.linspace(-1.0, 1.0, z.size)
        texture[state] = z - np.polynomial.Polynomial.fit(x, z, 4)(x)
    assert np.corrcoef(texture["pre"], texture["post"][::-1])[0, 1] > 0.9
    assert abs(np.corrcoef(texture["pre"], texture["post"])[0, 1]) < 0.5


def test_wafer_b_has_missing_and_wild_points():
    z = heights_um(DEMO / "M24-11" / "post" / "B-000.csv")
    assert np.count_nonzero(np.isnan(z)) == 12
    smooth = np.interp(np.arange(z.size), np.flatnonzero(~np.isnan(z)), z[~np.isnan(z)])
    off = np.abs(smooth[1:-1] - 0.5 * (smooth[:-2] + smooth[2:]))
    assert np.count_nonzero(off > 15.0) == 3


def test_files_of_one_lot_come_in_several_units_and_layouts():
    heads = {path.read_text().splitlines()[0] for path in DEMO.rglob("*-000.csv")}
    assert len(heads) == 5


@pytest.mark.parametrize(("folder", "wafers"), [("N24-03", 4), ("N24-04", 3), ("M24-11", 4)])
def test_lot_files_are_lot_files(folder, wafers):
    lot = read_lot(DEMO / folder / "lot.toml")
    assert [wafer.id for wafer in lot.wafers] == list(read_truths(DEMO / folder / "truth.toml"))
    assert len(lot.wafers) == wafers


def test_the_stack_states_what_is_true_and_finds_it():
    stated = tomllib.loads((DEMO / "stack" / "stack.toml").read_text("utf-8"))
    true = tomllib.loads((DEMO / "stack" / "layers.toml").read_text("utf-8"))
    names = [scan["file"] for one in stated["state"] for scan in one.get("scans", ())]
    assert {*names} == {path.name for path in (DEMO / "stack").glob("*.csv")}
    path = DEMO / "stack" / "stack.toml"
    found = measure_stack(stack_of_text(path.read_text("utf-8"), path=path))
    bare, oxide, nitride, anneal, _ = found.states
    change = true["oxide"]["stress_after_anneal_pa"] - true["oxide"]["stress_pa"]
    for estimate, truth in (
        (bare.bow, true["bare_bow_m"]),
        (oxide.stress, true["oxide"]["stress_pa"]),
        (oxide.force, true["oxide"]["stress_pa"] * true["oxide"]["thickness_m"]),
        (nitride.stress, true["nitride"]["stress_pa"]),
        (anneal.stress, change),
    ):
        assert estimate.low < truth < estimate.high
    for state, layer in ((oxide, true["oxide"]), (nitride, true["nitride"])):
        thickness = state.layer.film.thickness
        assert abs(thickness.value - layer["thickness_m"]) < 2.0 * thickness.u


def test_the_steps_tell_the_film_they_were_cut_into():
    true = tomllib.loads((DEMO / "step" / "truth.toml").read_text("utf-8"))
    found = measure_thickness(sorted((DEMO / "step").glob("*.csv")))
    assert found.thickness.low < true["film_thickness_m"] < found.thickness.high
