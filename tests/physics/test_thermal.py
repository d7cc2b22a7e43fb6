"""Thermal mismatch: Okada & Tokumaru's silicon, and arithmetic worked out by hand."""

from __future__ import annotations

import pytest
from scipy.integrate import quad

from filmstress.errors import RefusedInput
from filmstress.physics.thermal import (
    mismatch_strain,
    silicon_expansion,
    silicon_strain,
    thermal_stress,
)

KELVIN = 273.15


def test_silicon_at_room_temperature() -> None:
    # Okada & Tokumaru, J. Appl. Phys. 56 (1984) 314: the formula; 2.568e-6 1/K at 300 K follows.
    assert silicon_expansion(300.0) == pytest.approx(2.568063e-6, rel=1e-6)


@pytest.mark.parametrize(("cold", "hot"), [(20.0, 300.0), (20.0, 1000.0), (-100.0, 20.0)])
def test_the_strain_is_the_integral(cold: float, hot: float) -> None:
    low, high = cold + KELVIN, hot + KELVIN
    integral, _ = quad(silicon_expansion, low, high, epsabs=0.0, epsrel=1e-12)
    assert silicon_strain(hot_k=high, cold_k=low) == pytest.approx(integral, rel=1e-10)
    assert silicon_strain(hot_k=low, cold_k=high) == pytest.approx(-integral, rel=1e-10)


def test_aluminium_on_silicon() -> None:
    # E 70 GPa, nu 0.35, alpha 24.5e-6 1/K, cooled from 300 to 20 degC: by hand
    # (24.5e-6 - 3.289768e-6) 280 70e9/0.65 = +639.57 MPa, tensile.
    strain = mismatch_strain(
        film_expansion_per_k=24.5e-6,
        substrate_strain=silicon_strain(hot_k=300.0 + KELVIN, cold_k=20.0 + KELVIN),
        deposited_at_k=300.0 + KELVIN,
        now_k=20.0 + KELVIN,
    )
    stress = thermal_stress(film_modulus_pa=70e9 / 0.65, mismatch_strain=strain)
    assert stress == pytest.approx(639.57e6, rel=1e-5)


def test_oxide_on_silicon_is_compressive() -> None:
    # E 72 GPa, nu 0.17, alpha 0.5e-6 1/K, from 1000 to 20 degC: silicon contracts by 3.84272e-3.
    strain = mismatch_strain(
        film_expansion_per_k=0.5e-6,
        substrate_strain=silicon_strain(hot_k=1000.0 + KELVIN, cold_k=20.0 + KELVIN),
        deposited_at_k=1000.0 + KELVIN,
        now_k=20.0 + KELVIN,
    )
    assert thermal_stress(film_modulus_pa=72e9 / 0.83, mismatch_strain=strain) == pytest.approx(
        -290.84e6, rel=1e-4
    )


def test_outside_the_formula() -> None:
    with pytest.raises(RefusedInput, match="mean expansion"):
        silicon_strain(hot_k=1600.0, cold_k=300.0)
