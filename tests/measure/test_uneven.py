"""Stress along the scan and the mean over the area, from files drawn with a known film."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import binom

from filmstress.lots.manifest import read_lot
from filmstress.measure.wafer import measure_film, measure_wafer
from filmstress.physics.nonuniform import parabola_over_mean, ring_factor
from filmstress.records.notice import WarningCode
from filmstress.records.result import StressResult
from filmstress.records.uneven import Relation, UnevenStress
from filmstress.records.wafer import Face
from filmstress.simulate.truth import Truth
from filmstress.simulate.writing import write_pair as write_truth
from tests.measure._pairs import write_pair

STRESS = 150e6
EXACT = {
    "substrate": "Si(111)",
    "substrate_thickness": "675 um (exact)",
    "film_thickness": "500 nm (exact)",
    "film_thickness_profile": "0 % (exact)",
    "diameter": "150 mm (exact)",
    "position_scale_uncertainty": "0 %",
    "height_scale_uncertainty": "0 %",
    "support": "three-points",
}
# Of Si(111), in the plane and alike in all directions.
NU = 0.2618


def drawn(folder: Path, *, stated: dict[str, Any] | None = None, **truth: Any) -> StressResult:
    """A film measured from scans of its truth, nearly without noise unless asked for."""
    base: dict[str, Any] = {
        "substrate": "Si(111)",
        "substrate_thickness_m": 675e-6,
        "diameter_m": 0.150,
        "stress_x_pa": STRESS,
        "film_thickness_m": 500e-9,
        "scan_length_m": 0.140,
        "points": 1501,
        "waviness_rms_m": 50e-9,
        "white_noise_m": 0.3e-9,
    }
    write_truth(Truth(**(base | truth)), folder / "scans")
    paths = (folder / "scans" / "pre-000.csv", folder / "scans" / "post-000.csv")
    return measure_film(*paths, **(EXACT | (stated or {})))  # type: ignore[arg-type]


def found(result: StressResult) -> UnevenStress:
    assert result.uneven is not None
    return result.uneven


def codes(result: StressResult) -> set[WarningCode]:
    return {notice.code for notice in result.warnings}  # type: ignore[misc]


def rising(x: np.ndarray, rise: float, mean: float = STRESS) -> np.ndarray:
    return mean * (1.0 + rise * ((x / 0.075) ** 2 - 0.5))


@pytest.mark.parametrize("stress", [STRESS, -STRESS])
@pytest.mark.parametrize("face", ["up", "down"])
def test_a_uniform_film_has_a_flat_profile_at_the_single_number(
    tmp_path: Path, stress: float, face: str
) -> None:
    result = drawn(tmp_path, stated={"film_face": face}, stress_x_pa=stress, face=Face(face))
    assert result.stress is not None
    uneven = found(result)
    (profile,) = uneven.profiles
    np.testing.assert_allclose(profile.value, result.stress.value, rtol=3e-3)
    assert result.stress.value == pytest.approx(stress, rel=1e-3)
    assert uneven.area_mean is not None
    assert uneven.area_mean.value == pytest.approx(result.stress.value, rel=2e-3)
    assert not uneven.matters
    assert WarningCode.UNEVEN_STRESS not in codes(result)


@pytest.mark.parametrize(("rise", "face"), [(0.3, "up"), (-0.3, "up"), (0.3, "down")])
def test_a_film_that_rises_to_the_rim(tmp_path: Path, rise: float, face: str) -> None:
    result = drawn(tmp_path, stated={"film_face": face}, film_radial_share=rise, face=Face(face))
    assert result.stress is not None
    uneven = found(result)
    assert uneven.relation is Relation.AXISYMMETRIC
    (profile,) = uneven.profiles
    # 0.6 % is what holding the unseen ring at the end's value leaves of this film.
    np.testing.assert_allclose(profile.value, rising(profile.x, rise), atol=0.008 * STRESS)
    assert uneven.area_mean is not None
    assert uneven.area_mean.value == pytest.approx(STRESS, rel=0.01)
    # The parabola's number departs as the closed form says.
    apart = parabola_over_mean(poisson_ratio=NU, scan_radius=70.0 / 75.0)
    assert result.stress.value == pytest.approx(STRESS * (1.0 + rise * apart), rel=2e-3)
    assert uneven.significant
    assert uneven.matters
    (notice,) = (n for n in result.warnings if n.code is WarningCode.UNEVEN_STRESS)
    assert ("higher" if rise > 0.0 else "lower") in notice.message
    assert WarningCode.NOT_A_PARABOLA in codes(result)


def test_the_band_holds_the_film_that_was_drawn(tmp_path: Path) -> None:
    runs, held, means = 40, np.zeros(3, dtype=int), 0
    for seed in range(runs):
        folder = tmp_path / str(seed)
        result = drawn(
            folder,
            film_radial_share=0.2,
            white_noise_m=5e-9,
            correlated_noise_m=5e-9,
            seed=seed + 100,
        )
        (profile,) = found(result).profiles
        true = rising(profile.x, 0.2)
        inside = (profile.low <= true) & (true <= profile.high)
        held += inside[[0, 6, 10]]
        mean = found(result).area_mean
        assert mean is not None
        assert mean.low is not None
        assert mean.high is not None
        means += mean.low <= STRESS <= mean.high
    # Fewer than 33 of 40 have a probability of 7e-4 where the band holds 95 times in 100.
    assert binom.cdf(32, runs, 0.95) < 1e-3
    assert held.min() >= 33
    assert means >= 33


def test_without_the_diameter_each_place_is_read_by_itself_within_a_bound(tmp_path: Path) -> None:
    uneven = found(drawn(tmp_path, stated={"diameter": None}, film_radial_share=0.2))
    assert uneven.relation is Relation.LOCAL
    assert "diameter" in uneven.because
    assert uneven.area_mean is None
    (profile,) = uneven.profiles
    true = rising(profile.x, 0.2)
    assert np.all((profile.low <= true) & (true <= profile.high))
    # It is not what the relation of the whole wafer finds.
    assert np.abs(profile.value - true).max() > 0.02 * STRESS


def test_a_short_scan_cannot_speak_for_the_wafer(tmp_path: Path) -> None:
    result = drawn(tmp_path, scan_length_m=0.100)
    uneven = found(result)
    assert uneven.relation is Relation.LOCAL
    assert "0.67" in uneven.because
    (part,) = uneven.neglected
    assert "neighbours" in part.name


def test_a_scan_longer_than_the_wafer_is_said_to_be(tmp_path: Path) -> None:
    uneven = found(drawn(tmp_path, stated={"diameter": "130 mm (exact)"}))
    assert uneven.relation is Relation.LOCAL
    assert "beyond the film's edge" in uneven.because


def test_an_odd_part_contradicts_a_film_that_varies_with_the_radius(tmp_path: Path) -> None:
    """z = g x^3 is a film that grows evenly: N' = 6 g M h^2/6 (3 + nu)/(3 (1 + nu)) per length."""
    growth = 0.03  # 1/m^2
    pre, post = write_pair(
        tmp_path,
        change_per_m=0.0045,
        length_m=0.140,
        noise_m=0.3e-9,
        sag_post=lambda x: growth * x**3,
    )
    result = measure_film(pre, post, **EXACT)
    uneven = found(result)
    assert uneven.odd_significant
    assert uneven.odd_share > 0.9
    (profile,) = uneven.profiles
    modulus = result.substrate.modulus.value
    slope = 6.0 * growth * modulus * 675e-6**2 / 6.0 / 500e-9 * (3.0 + NU) / (3.0 * (1.0 + NU))
    got = np.polyfit(profile.x, profile.value, 1)[0]
    assert got == pytest.approx(slope, rel=5e-3)
    assert {part.name for part in uneven.neglected} >= {"odd part"}


def test_a_bare_ring_is_taken_out_of_profile_and_mean(tmp_path: Path) -> None:
    factor = ring_factor(poisson_ratio=NU, film_radius_m=0.072, wafer_radius_m=0.075)
    result = drawn(
        tmp_path, stated={"film_uncoated_ring": "3 mm (exact)"}, stress_x_pa=STRESS * factor
    )
    assert result.stress is not None
    assert result.stress.value == pytest.approx(STRESS, rel=1e-3)
    uneven = found(result)
    np.testing.assert_allclose(uneven.profiles[0].value, STRESS, rtol=3e-3)
    assert uneven.area_mean is not None
    assert uneven.area_mean.value == pytest.approx(STRESS, rel=2e-3)


def test_the_film_s_own_thickness_profile_divides_the_local_force(tmp_path: Path) -> None:
    plain = drawn(tmp_path / "a")
    thicker = drawn(tmp_path / "b", stated={"film_thickness_profile": "10 % (exact)"})
    assert plain.stress is not None
    assert thicker.stress is not None
    (before,), (after,) = found(plain).profiles, found(thicker).profiles
    moved = thicker.stress.value - plain.stress.value
    # The middle is thicker by a third of it than the mean, the ends thinner by two thirds.
    want = (before.value[[0, 10]] + moved) / (1.0 + 0.1 * np.array([-2.0 / 3.0, 1.0 / 3.0]))
    np.testing.assert_allclose(after.value[[0, 10]], want, rtol=1e-3)


@pytest.mark.parametrize(
    ("changed", "why"),
    [({"film_thickness": None}, "thickness is not stated"), ({"film_face": "down"}, "other face")],
)
def test_a_thickness_profile_that_cannot_be_used_is_said(
    tmp_path: Path, changed: dict[str, Any], why: str
) -> None:
    stated = EXACT | {"film_thickness_profile": "2 % ± 1 %"} | changed
    pre, post = write_pair(tmp_path, change_per_m=0.0045)
    result = measure_film(pre, post, **{k: v for k, v in stated.items() if v is not None})
    (notice,) = (n for n in result.warnings if n.code is WarningCode.INPUT_UNUSED)
    assert why in notice.message


def test_a_crystal_that_bends_unevenly_widens_the_band(tmp_path: Path) -> None:
    cut = {"substrate": "Si(001)"}
    one = found(drawn(tmp_path / "a", film_radial_share=0.2))
    two = found(drawn(tmp_path / "b", stated=cut, film_radial_share=0.2, **cut))
    assert {p.name for p in two.neglected} - {p.name for p in one.neglected} == {
        "bending of the cut alike in all directions"
    }
    true = rising(two.profiles[0].x, 0.2)
    assert np.all((two.profiles[0].low <= true) & (true <= two.profiles[0].high))


def test_a_shape_small_in_height_is_still_told(tmp_path: Path) -> None:
    """A quartic of 0.3 um beside a bow of some 10 um bends the ends by several per cent more."""
    result = drawn(tmp_path, film_quartic_share=0.03, white_noise_m=5e-9, correlated_noise_m=5e-9)
    (notice,) = (n for n in result.warnings if n.code is WarningCode.NOT_A_PARABOLA)
    assert "drift" in notice.message
    assert WarningCode.UNEVEN_STRESS in codes(result)


LOT = """
lot = "two lines"
[substrate]
material = "Si(111)"
diameter = "150 mm"
thickness = "675 um ± 1 um"
[film]
thickness = "500 nm ± 1 %"
[scan]
support = "three-points"
[[wafer]]
id = "01"
scans = [
  {{ azimuth = "0 deg", pre = "{0}", post = "{1}" }},
  {{ azimuth = "90 deg", pre = "{2}", post = "{3}" }},
]
"""


@pytest.mark.parametrize("both", [True, False])
def test_two_lines_tell_a_film_from_a_drift(tmp_path: Path, both: bool) -> None:
    def bend(x: np.ndarray) -> np.ndarray:
        t = x / 0.07
        return 0.3e-6 * (35.0 * t**4 - 30.0 * t**2 + 3.0) / 8.0

    shapes = (bend, bend if both else None)
    pairs = [
        write_pair(
            tmp_path, change_per_m=0.0045 + 1e-9 * i, length_m=0.140, seed=5 + i, sag_post=shape
        )
        for i, shape in enumerate(shapes)
    ]
    names = [Path(path).name for pair in pairs for path in pair]
    (tmp_path / "lot.toml").write_text(LOT.format(*names), encoding="utf-8")
    (wafer,) = read_lot(tmp_path / "lot.toml").wafers
    result = measure_wafer(wafer)
    uneven = found(result)
    assert uneven.lines == 2
    assert uneven.significant is both
    assert (WarningCode.UNEVEN_STRESS in codes(result)) is both
    assert len(uneven.profiles) == 2


def test_a_stated_bare_bow_has_no_profile(tmp_path: Path) -> None:
    _, post = write_pair(tmp_path, change_per_m=0.0045)
    result = measure_film(None, post, bare_bow="0 um ± 5 um", **EXACT)
    assert result.uneven is None
