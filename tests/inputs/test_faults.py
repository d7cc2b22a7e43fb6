"""Faults between the keys of one wafer, and all of them at once."""

from __future__ import annotations

from typing import Any

import pytest

from filmstress.errors import Faults, RefusedInput
from filmstress.inputs.faults import MOST_FAULTS, FaultList
from tests.inputs.stating import faults_of, wafer


@pytest.mark.parametrize(
    ("stated", "where", "words", "hint"),
    [
        (
            {"substrate_thickness": None},
            "file, wafer 01",
            "the substrate's thickness is not stated",
            "525 um ± 2 um",
        ),
        ({"substrate": None}, "file, wafer 01", "the substrate is not named", "Si(001)"),
        (
            {"substrate": None, "substrate_youngs_modulus": "70 GPa ± 1 GPa"},
            "file, wafer 01",
            "the substrate is not named",
            "Poisson's ratio",
        ),
        (
            {"substrate_modulus": "180 GPa ± 1 GPa"},
            "substrate",
            "material and modulus are stated together",
            "keep the one or the other",
        ),
        (
            {"substrate_density": "2330 kg/m^3"},
            "substrate",
            "density and material are stated together",
            "keep the one or the other",
        ),
        (
            {"film_modulus": "260 GPa", "film_poisson_ratio": 0.25, "film_youngs_modulus": "2 GPa"},
            "film_modulus",
            "modulus and poisson_ratio and youngs_modulus are stated together",
            "keep the one or the other",
        ),
        (
            {"film_youngs_modulus": "200 GPa"},
            "film_youngs_modulus",
            "the film's youngs_modulus is stated without its poisson_ratio",
            "state film poisson_ratio too",
        ),
        (
            {"film_poisson_ratio": "0.2"},
            "film_poisson_ratio",
            "the film's poisson_ratio is stated without its youngs_modulus",
            "biaxial modulus",
        ),
        (
            {"film_thickness": "500 um", "substrate_thickness": "300 um"},
            "film_thickness",
            "the film is 1.67 times as thick as its substrate",
            "another unit",
        ),
        (
            {"film_uncoated_ring": "30 mm", "diameter": "50 mm"},
            "film_uncoated_ring",
            "the uncoated ring covers the whole wafer",
            "3 mm",
        ),
        (
            {"support_radius": "80 mm", "diameter": "150 mm"},
            "support_radius",
            "the support lies outside the wafer",
            "diameter",
        ),
        (
            {"pre_azimuth": "0 deg", "post_azimuth": "90 deg"},
            "scan 1",
            "the post scan runs at 90 deg and the pre scan at 0 deg: they are not one line",
            "half a turn off",
        ),
    ],
)
def test_faults_between_keys(stated: dict[str, Any], where: str, words: str, hint: str) -> None:
    (fault,) = faults_of(**stated)
    assert fault.where == where
    assert words in fault.message
    assert hint in fault.hint


@pytest.mark.parametrize("turn", ["0 deg", "2 deg", "180 deg", "-179 deg", "358 deg"])
def test_a_line_may_be_scanned_from_its_other_end(turn: str) -> None:
    wafer(pre_azimuth="0 deg", post_azimuth=turn)


def test_every_fault_is_told_at_once_and_once() -> None:
    stated = {
        "substrate": None,
        "substrate_thickness": "525",
        "film_thickness": "1000 A",
        "diameter": "150 um",
        "support": "floating",
        "bow_repeatability": "15",
        "window": "30 mm",
    }
    faults = faults_of({}, {"azimuth": "90"}, **stated)
    places = [fault.where for fault in faults]
    assert sorted(places) == sorted(
        [
            "file, wafer 01",
            "substrate_thickness",
            "film_thickness",
            "diameter",
            "support",
            "bow_repeatability",
            "window",
            "azimuth",
        ]
    )
    assert all(fault.hint for fault in faults)


def test_a_file_of_nothing_but_faults_comes_to_an_end() -> None:
    faults, outer = FaultList(), FaultList()

    def everything() -> None:
        for number in range(MOST_FAULTS + 2):
            faults.add(RefusedInput(f"fault {number}"))

    # What gathers the faults of a part ends as well.
    with pytest.raises(Faults) as caught:
        outer.attempt(everything, None)
    told = [str(one) for one in caught.value.faults]
    assert told[:MOST_FAULTS] == [f"fault {number}" for number in range(MOST_FAULTS)]
    assert len(told) == MOST_FAULTS + 1
    assert "the rest was not read" in told[-1]
