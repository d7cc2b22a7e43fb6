"""Stress that a film owes to having been made at another temperature.

A film that is bonded at T_dep and would, by itself, contract otherwise than its substrate carries
at T the mismatch stress

    sigma_th(T) = M_f integral from T to T_dep of (alpha_f - alpha_s) dT',   M_f = E_f/(1 - nu_f),

as long as it stays elastic: alpha_f > alpha_s, cooled from deposition, is tensile.  Valid for a
thin film; metals yield long before the elastic stress of a few hundred kelvin is reached.

References
----------
M. Ohring, Materials Science of Thin Films (2002), ch. 12 (from memory, for the relation);
Y. Okada & Y. Tokumaru, J. Appl. Phys. 56 (1984) 314, doi 10.1063/1.333965, for silicon.
"""

from __future__ import annotations

import math

from filmstress.errors import RefusedInput

SILICON_RANGE_K = (120.0, 1500.0)
SILICON_EXPANSION_U = 0.2e-6
"""Standard uncertainty of the mean expansion of silicon [1/K], as its authors state it."""


def thermal_stress(*, film_modulus_pa: float, mismatch_strain: float) -> float:
    """Stress [Pa] of a film of biaxial modulus ``film_modulus_pa`` stretched by a strain [1].

    Parameters
    ----------
    film_modulus_pa : float
        E_f/(1 - nu_f) [Pa].
    mismatch_strain : float
        Free contraction of the film less that of the substrate from deposition to now [1].
    """
    return film_modulus_pa * mismatch_strain


def mismatch_strain(
    *,
    film_expansion_per_k: float,
    substrate_strain: float,
    deposited_at_k: float,
    now_k: float,
) -> float:
    """Strain [1] by which the substrate keeps the film from contracting freely.

    Parameters
    ----------
    film_expansion_per_k : float
        Mean linear expansion of the film between the two temperatures [1/K].
    substrate_strain : float
        Free contraction of the substrate between them [1], from `silicon_strain` or its mean
        expansion times the difference.
    deposited_at_k, now_k : float
        [K].
    """
    return film_expansion_per_k * (deposited_at_k - now_k) - substrate_strain


def silicon_expansion(temperature_k: float) -> float:
    """Linear expansion of silicon [1/K] at a temperature [K].

    alpha = {3.725 [1 - exp(-5.88e-3 (T - 124))] + 5.548e-4 T} 1e-6 (Okada & Tokumaru 1984).

    Raises
    ------
    RefusedInput
        Outside 120 to 1500 K.
    """
    _check(temperature_k)
    return 1e-6 * (
        3.725 * -math.expm1(-5.88e-3 * (temperature_k - 124.0)) + 5.548e-4 * temperature_k
    )


def silicon_strain(*, hot_k: float, cold_k: float) -> float:
    """Free contraction of silicon from ``hot_k`` to ``cold_k`` [1]: the integral of the above.

    Raises
    ------
    RefusedInput
        Outside 120 to 1500 K.
    """
    for temperature in (hot_k, cold_k):
        _check(temperature)

    def integral(t: float) -> float:
        return 3.725 * (t + math.exp(-5.88e-3 * (t - 124.0)) / 5.88e-3) + 2.774e-4 * t * t

    return 1e-6 * (integral(hot_k) - integral(cold_k))


def _check(temperature_k: float) -> None:
    low, high = SILICON_RANGE_K
    if not low <= temperature_k <= high:
        raise RefusedInput(
            f"the expansion of silicon is known from {low:g} K to {high:g} K, not at "
            f"{temperature_k:g} K",
            hint="state the mean expansion of the substrate",
        )
