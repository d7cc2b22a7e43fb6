"""Sums of film forces against numbers worked out by hand, and against the exact laminate."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.errors import RefusedInput
from filmstress.physics.stack import (
    balancing_thickness,
    curvature_of_stack,
    share_of_stoney,
)

# Si(001): c11, c12 = 165.7, 63.9 GPa (Mason 1958): M = c11 + c12 - 2 c12^2/c11 = 180.3156 GPa.
M, H = 180.3156e9, 675e-6


def laminate(layers: list[tuple[float, float, float]]) -> float:
    """Curvature of layers (biaxial modulus, thickness, misfit stress), lowest first [1/m].

    Classical laminate theory: force and moment balance with one mid-plane strain and curvature.
    """
    a = b = d = n = m = 0.0
    z = 0.0
    for modulus, thickness, stress in layers:
        low, z = z, z + thickness
        a += modulus * thickness
        b += modulus * (z**2 - low**2) / 2.0
        d += modulus * (z**3 - low**3) / 3.0
        n += stress * thickness
        m += stress * (z**2 - low**2) / 2.0
    # strain e and curvature k (bowl positive): a e - b k = -n, b e - d k = -m.
    return (b * n - a * m) / (b * b - a * d)


def deposited(layers: list[tuple[float, float, float]], place: int) -> tuple[float, float]:
    """Curvature [1/m] that one layer's misfit makes, and the mean stress [Pa] that it then carries.

    The others' misfits play no part: what they carry is in balance already.
    """
    misfits = [
        (modulus, thickness, stress if number == place else 0.0)
        for number, (modulus, thickness, stress) in enumerate(layers)
    ]
    kappa = laminate(misfits)
    a = sum(modulus * thickness for modulus, thickness, _ in misfits)
    b = middle = z = 0.0
    for number, (modulus, thickness, _) in enumerate(misfits):
        b += modulus * ((z + thickness) ** 2 - z**2) / 2.0
        middle = z + thickness / 2.0 if number == place else middle
        z += thickness
    modulus, thickness, stress = misfits[place]
    strain = (b * kappa - stress * thickness) / a
    return kappa, stress + modulus * (strain - kappa * middle)


def test_worked_by_hand() -> None:
    # 6/(M h^2) = 7.303153e-5 1/N; (300 * 0.5 - 150 * 1 - 200 * 0.3) N/m = -60 N/m.
    forces = [(150.0, 1), (-150.0, 1), (60.0, -1)]
    got = curvature_of_stack(modulus_pa=M, substrate_thickness_m=H, forces=forces)
    assert got == pytest.approx(-60.0 * 7.303153e-5, rel=1e-6)


def test_a_film_of_the_same_pull_on_the_back_balances() -> None:
    # 250 MPa x 1 um in front, +400 MPa behind: 0.625 um.
    thickness = balancing_thickness(
        modulus_pa=M, substrate_thickness_m=H, forces=[(250.0, 1)], stress_pa=400e6, face_sign=-1
    )
    assert thickness == pytest.approx(0.625e-6, rel=1e-12)
    with pytest.raises(RefusedInput, match="wrong way"):
        balancing_thickness(
            modulus_pa=M, substrate_thickness_m=H, forces=[(250.0, 1)], stress_pa=4e8, face_sign=1
        )


def test_against_the_exact_laminate() -> None:
    # Thin layers of three moduli on both faces: what is left is of the order of 4 h_f/h_s.
    front = [(250e9, 0.4e-6, 300e6), (90e9, 0.8e-6, -120e6)]
    back = [(150e9, 0.3e-6, 200e6)]
    exact = laminate([*back, (M, H, 0.0), *front])
    forces = [(h * s, 1) for _, h, s in front] + [(h * s, -1) for _, h, s in back]
    got = curvature_of_stack(modulus_pa=M, substrate_thickness_m=H, forces=forces)
    assert got == pytest.approx(exact, rel=0.02)


@given(
    forces=st.lists(st.tuples(st.floats(-500, 500), st.sampled_from([1, -1])), max_size=5),
    bare=st.floats(-0.05, 0.05),
    target=st.floats(-0.05, 0.05),
    stress=st.floats(1e6, 2e9),
    sign=st.sampled_from([1, -1]),
)
def test_the_balancing_layer_reaches_its_target(
    forces: list[tuple[float, int]], bare: float, target: float, stress: float, sign: int
) -> None:
    plate = {"modulus_pa": M, "substrate_thickness_m": H, "bare_per_m": bare}
    for pull in (stress, -stress):
        try:
            thickness = balancing_thickness(
                **plate, forces=forces, stress_pa=pull, face_sign=sign, target_per_m=target
            )
        except RefusedInput:
            continue
        balanced = [*forces, (pull * thickness, sign)]
        assert curvature_of_stack(**plate, forces=balanced) == pytest.approx(target, abs=1e-9)
        return
    raise AssertionError("one of the two signs must do")


def test_one_film_alone_bends_by_its_lever() -> None:
    # The relaxed mean stress at half the films' thickness above the middle: 1 + h_f/h_s, exactly.
    for ratio in (0.1, 1.0, 4.0):
        for face in (1, -1):
            share = share_of_stoney([(5e-6, ratio, face)], 0, substrate_thickness_m=H)
            assert share == pytest.approx(1.0 + 5e-6 / H, rel=1e-12)


@given(
    films=st.lists(
        st.tuples(st.floats(20e9, 600e9), st.floats(0.1e-6, 5e-6), st.sampled_from([1, -1])),
        min_size=1,
        max_size=5,
    ),
    stress=st.floats(50e6, 2e9),
    which=st.integers(0, 4),
)
def test_any_film_among_others_against_the_exact_laminate(
    films: list[tuple[float, float, int]], stress: float, which: int
) -> None:
    which %= len(films)
    front = [number for number, film in enumerate(films) if film[2] == 1]
    back = [number for number, film in enumerate(films) if film[2] == -1]
    order = [*reversed(back), None, *front]
    layers = [
        (M, H, 0.0) if number is None else (films[number][0], films[number][1], stress)
        for number in order
    ]
    kappa, carried = deposited(layers, order.index(which))
    share = share_of_stoney(
        [(thickness, modulus / M, face) for modulus, thickness, face in films],
        which,
        substrate_thickness_m=H,
    )
    force = films[which][2] * carried * films[which][1]
    # What is left is the moment inside the film itself: 12 (h_f/h_s)^3 at most times M_f/M_s.
    assert 6.0 * force * share / (M * H**2) == pytest.approx(kappa, rel=1e-5)
