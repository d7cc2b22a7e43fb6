"""The measurement as one function: its derivatives are the budget, its bends are the physics."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from filmstress.inputs.request import LineInput, build_wafer
from filmstress.inputs.settings import from_arguments
from filmstress.measure import film as outputs
from filmstress.measure import wafer as measuring
from filmstress.measure.film import Film
from filmstress.measure.model import MeasurementModel
from filmstress.records.budget import Term
from filmstress.records.wafer import WaferSpec
from filmstress.stats.budget import merge_shared
from tests.measure._pairs import write_pair

STATED = {
    "substrate": "Si(001)",
    "substrate_thickness": "525 um ± 2 um",
    "film_thickness": "1.00 um ± 2 %",
    "film_thickness_profile": "2 % ± 1 %",
    "support": "three-points",
}
CHANGE, FAR = 0.0120725592, 0.12
MAKERS: dict[str, Callable[[Film], tuple[float, list[Term]]]] = {
    "stress": outputs.stress,
    "force_per_width": outputs.force_per_width,
    "stress_mismatch": outputs.stress_mismatch,
}


def wafer_of(folder: Path, azimuths: list[float], change: float, **stated: str) -> WaferSpec:
    """A wafer scanned along some azimuths [deg]; the changes differ a little."""
    lines = []
    for number, azimuth in enumerate(azimuths):
        pair = write_pair(folder, change_per_m=change * (1.0 + 0.03 * number), seed=number + 1)
        own = from_arguments({"azimuth": f"{azimuth} deg"}, as_options=False, shared_by="wafer")
        paths = dict(zip(("pre", "post"), pair, strict=True))
        lines.append(LineInput(own, paths, f"pair {number}"))
    texts = {key: text for key, text in {**STATED, **stated}.items() if text}
    settings = from_arguments(texts, as_options=False, shared_by="wafer")
    return build_wafer("this wafer", settings, lines)


@pytest.fixture
def film_of(monkeypatch: pytest.MonkeyPatch) -> Callable[[WaferSpec], Film]:
    """What the outputs of a wafer are made from, caught on its way."""
    caught: list[Film] = []
    of = Film.of

    def catching(*given: Any) -> Film:
        caught.append(of(*given))
        return caught[-1]

    monkeypatch.setattr(Film, "of", catching)

    def film(wafer: WaferSpec) -> Film:
        result = measuring.measure_wafer(wafer)
        assert result.refusal is None
        return caught[-1]

    return film


CASES: dict[str, tuple[list[float], float, dict[str, str]]] = {
    "plain": ([0], CHANGE, {}),
    "flat": ([0], 0.0, {}),
    "force only": ([0], CHANGE, {"film_thickness": ""}),
    "on the other face": ([0], CHANGE, {"film_face": "down"}),
    "thick": (
        [0], CHANGE, {"film_thickness": "20 um ± 2 %", "film_modulus": "200 GPa ± 10 %"},
    ),
    "bent far": ([0], FAR, {"diameter": "100 mm ± 1 mm"}),
    "bare ring": (
        [0], CHANGE, {"diameter": "100 mm ± 1 mm", "film_uncoated_ring": "3 mm ± 0.5 mm"},
    ),
    "changed support": (
        [0], CHANGE, {"diameter": "100 mm ± 1 mm", "pre_support": "rim", "post_support": "centre"},
    ),
    "two gauges": ([0], CHANGE, {"pre_instrument": "a", "post_instrument": "b"}),
    "stated constants": (
        [0],
        CHANGE,
        {
            "substrate": "",
            "substrate_youngs_modulus": "130 GPa ± 3 GPa",
            "substrate_poisson_ratio": "0.28 ± 0.02",
        },
    ),
    "repeats": ([0, 0, 0], CHANGE, {}),
    "azimuths": ([0, 90], CHANGE, {"bow_repeatability": "20 nm"}),
    "three azimuths of an uneven cut": (
        [0, 45, 90], CHANGE, {"substrate": "Si(110)", "azimuth_reference": "[001]"},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_its_derivatives_are_the_budget(
    name: str, tmp_path: Path, film_of: Callable[[WaferSpec], Film]
) -> None:
    azimuths, change, stated = CASES[name]
    film = film_of(wafer_of(tmp_path, azimuths, change, **stated))
    model = MeasurementModel(film)
    count, step = len(model.variates), 1e-3
    turned = step * np.eye(count)
    slopes = (model(turned) - model(-turned)) / (2.0 * step)
    centre = model(np.zeros((count, 1)))[:, 0]
    for place, output in enumerate(model.names):
        value, terms = MAKERS[output](film)
        assert centre[place] == pytest.approx(value, rel=1e-12, abs=1e-12)
        left = set(range(count))
        largest = max(term.contribution for term in terms)
        for term in merge_shared(terms):
            rows = _rows(model, term)
            left -= set(rows)
            found = math.hypot(*slopes[place, rows])
            if name != "repeats" or rows:
                want = pytest.approx(term.contribution, rel=2e-4, abs=1e-6 * largest)
                assert found == want, (output, term.input)
        # What the budget does not list moves nothing, but for the mean of repeats.
        for row in left:
            if "repeats" in model.variates[row].input:
                parts = [t.contribution for t in terms if not t.common_to]
                assert abs(slopes[place, row]) == pytest.approx(math.hypot(*parts), rel=1e-6)
            else:
                assert abs(slopes[place, row]) < 1e-5 * largest, model.variates[row]


def _rows(model: MeasurementModel, term: Term) -> list[int]:
    """Rows of a budget term: one, or one for each constant of the substrate."""
    return [
        number
        for number, one in enumerate(model.variates)
        if one.input.split(" #")[0] == term.input.split(" #")[0]
        and one.common_to == (term.common_to or "wafer")
        and (term.input == one.input or " #" not in term.input)
    ]


def test_stiffening_bends_as_the_plate_does(
    tmp_path: Path, film_of: Callable[[WaferSpec], Film]
) -> None:
    """Over the draws' reach the model follows the plate's own solution."""
    stated = {"diameter": "100 mm", "film_thickness_profile": "0 % (exact)"}
    film = film_of(wafer_of(tmp_path, [0], FAR, **stated))
    model = MeasurementModel(film)
    names = [one.input for one in model.variates]
    reduced = np.zeros((len(names), 1))
    # A height scale off by 25 % is a change of curvature off by as much.
    reduced[names.index("height scale")] = 0.25 / 0.005
    found = model(reduced)[0, 0]
    farther = film_of(wafer_of(tmp_path, [0], 1.25 * FAR, **stated))
    want, _ = outputs.stress(farther)
    linear = 1.25 * outputs.stress(film)[0]
    assert abs(want / linear - 1.0) > 0.01
    assert found == pytest.approx(want, rel=2e-3)


def test_wafers_share_what_they_share(tmp_path: Path, film_of: Callable[[WaferSpec], Film]) -> None:
    model = MeasurementModel(film_of(wafer_of(tmp_path, [0], CHANGE)))
    shared = {one.input.split(" #")[0]: one.common_to for one in model.variates}
    assert shared["height scale"] == "gauge"
    assert shared["substrate modulus"] == "table Si"
    assert shared["curvature fit"] == "wafer"
