"""Stiffness of cuts for the tests."""

import numpy as np

from filmstress.physics.elasticity import (
    isotropic_plane_stress,
    plane_stress_stiffness,
    stiffness_matrix,
)
from filmstress.substrates.catalogue import find_cut, in_plane_direction

# A cut with the in-plane direction that is axis x, where one is wanted.
DIRECTIONS = {"Si(001)": "[110]", "Ge(001)": "[110]", "GaAs(001)": "[110]", "Si(110)": "[001]"}


def reduced(name: str) -> np.ndarray:
    """Q [Pa] of a cut, or of a glass of E = 72.7 GPa, nu = 0.165."""
    if name == "glass":
        return isotropic_plane_stress(youngs_modulus_pa=72.7e9, poisson_ratio=0.165)
    cut = find_cut(name)
    normal = np.asarray(cut.normal, dtype=float)
    along = DIRECTIONS.get(name)
    e1 = (
        in_plane_direction(cut, along).vector
        if along
        else np.cross(normal, np.roll(normal, 1) + np.array([0.1, 0.2, 0.3]))
    )
    stiffness = stiffness_matrix(cut.system, cut.elastic_values())
    return plane_stress_stiffness(stiffness, normal, e1)
