"""Stacks of stated layers against closed forms, the exact laminate and an uncertainty library."""

from __future__ import annotations

import math

import pytest
from uncertainties import ufloat

from filmstress.records.quantity import Estimate
from filmstress.records.stack import Known
from tests.physics.test_stack import H, M, deposited
from tests.stacks._stacks import found, layer, state

ARM = 0.12**2 / 8.0
SOFT = ', modulus = "90 GPa (exact)"'
# 6/(M h^2) for Si(001) of 675 um [1/N], by hand from c11, c12 = 165.7, 63.9 GPa (Mason 1958).
PER_FORCE = 7.303153e-5


def value(estimate: Estimate | None) -> float:
    assert estimate is not None
    return estimate.value


def test_three_layers_worked_by_hand() -> None:
    result = found(
        state("bare")
        + state("a", layer("300 MPa ± 3 MPa", "0.5 um ± 1 %"))
        + state("b", layer("-150 MPa ± 3 MPa", "1 um ± 1 %"))
        + state("c", layer("200 MPa ± 3 MPa", "0.3 um ± 1 %", "down"))
    )
    forces = [value(one.total) for one in result.states]
    assert forces == pytest.approx([0.0, 150.0, 0.0, -60.0])
    # Thin-film limit; the films' own thickness is worth 4 h_f/h_s of each force at most.
    assert value(result.states[1].bow) == pytest.approx(150 * PER_FORCE * ARM, rel=0.002)
    assert value(result.states[3].bow) == pytest.approx(-60 * PER_FORCE * ARM, rel=0.05)
    assert [one.bow_known for one in result.states] == [Known.STATED, *[Known.PREDICTED] * 3]


@pytest.mark.parametrize("order", ["front first", "back first"])
def test_predicted_bows_are_those_of_the_exact_laminate(order: str) -> None:
    # (biaxial modulus, thickness, misfit stress, face): 0.4 to 2 um on 675 um, both faces.
    films = [
        (250e9, 0.4e-6, 300e6, 1),
        (90e9, 2.0e-6, -120e6, 1),
        (150e9, 0.8e-6, 200e6, -1),
    ]
    if order == "back first":
        films.reverse()
    body, kappa, bows = state("bare"), 0.0, [0.0]
    for number, (modulus, thickness, _, face) in enumerate(films):
        there = films[: number + 1]
        front = [one[:3] for one in there if one[3] == 1]
        back = [one[:3] for one in reversed(there) if one[3] == -1]
        layers = [*back, (M, H, 0.0), *front]
        place = layers.index(films[number][:3])
        bent, carried = deposited(layers, place)
        kappa += bent
        bows.append(kappa * ARM)
        body += state(
            f"layer {number}",
            layer(
                f"{carried!r} Pa (exact)",
                f"{thickness!r} m (exact)",
                "up" if face == 1 else "down",
                f', modulus = "{modulus!r} Pa (exact)"',
            ),
        )
    # The table's stiffness agrees with M to 1e-5 at best (its constants are newer).
    got = [value(one.bow) for one in found(body).states]
    assert got == pytest.approx(bows, rel=0.005, abs=1e-12)


@pytest.mark.parametrize(("stress", "face", "bowl"), [
    ("200 MPa ± 1 MPa", "up", True),
    ("200 MPa ± 1 MPa", "down", False),
    ("-200 MPa ± 1 MPa", "up", False),
    ("-200 MPa ± 1 MPa", "down", True),
])  # fmt: skip
def test_tension_in_front_is_a_bowl_and_behind_a_dome(stress: str, face: str, bowl: bool) -> None:
    result = found(state("bare") + state("film", layer(stress, "500 nm ± 1 %", face)))
    assert (value(result.states[1].bow) > 0.0) is bowl
    assert (value(result.states[1].total) > 0.0) is bowl


def test_the_same_film_on_both_faces_leaves_the_wafer_flat() -> None:
    told = [layer("800 MPa (exact)", "200 nm (exact)", face) for face in ("up", "down")]
    result = found(state("bare") + state("front", told[0]) + state("back", told[1]))
    assert value(result.states[2].total) == pytest.approx(0.0, abs=1e-9)
    one = abs(value(result.states[1].bow))
    assert abs(value(result.states[2].bow)) < 0.005 * one


def test_what_is_stripped_takes_its_force_and_its_doubt_along() -> None:
    result = found(
        state("bare")
        + state("oxide", layer("-300 MPa ± 20 MPa", "500 nm ± 2 %", more=SOFT))
        + state("nitride", layer("400 MPa ± 4 MPa", "100 nm (exact)", more=SOFT))
        + state("bared", 'strips = "oxide"')
    )
    last = result.states[-1]
    assert last.total is not None
    assert last.total.u is not None
    assert value(last.total) == pytest.approx(40.0)
    assert last.total.u == pytest.approx(0.4)
    assert value(last.stress) == pytest.approx(-300e6)
    assert value(last.bow) == pytest.approx(40.0 * PER_FORCE * ARM, rel=0.005)


def test_uncertainties_against_a_library() -> None:
    head = """\
[substrate]
modulus = "180 GPa ± 2 GPa"
thickness = "675 um ± 3 um"
[scan]
length = "120 mm"
bare_bow = "5 um ± 0.5 um"
"""
    result = found(
        state("bare")
        + state(
            "a", layer("-300 MPa ± 6 MPa", "500 nm ± 10 nm", more=', modulus = "90 GPa (exact)"')
        )
        + state(
            "b",
            layer("200 MPa ± 8 MPa", "300 nm ± 6 nm", "down", SOFT),
        )
        + '[balance]\nlayer = { stress = "250 MPa ± 10 MPa" }\n',
        head,
    )
    # The same sums with `uncertainties`; 4 h_f/h_s (0.3 %) apart.
    modulus, h = ufloat(180e9, 2e9), ufloat(675e-6, 3e-6)
    first = ufloat(-300e6, 6e6) * ufloat(500e-9, 10e-9)
    both = first - ufloat(200e6, 8e6) * ufloat(300e-9, 6e-9)
    bow = ufloat(5e-6, 0.5e-6) + ARM * 6 * both / (modulus * h**2)
    last = result.states[-1].bow
    assert last is not None
    assert value(last) == pytest.approx(bow.nominal_value, rel=0.01)
    assert last.u == pytest.approx(bow.std_dev, rel=0.01)
    thickness = -bow / ARM * modulus * h**2 / 6 / ufloat(250e6, 10e6)
    assert result.balance is not None
    assert result.balance.thickness is not None
    assert result.balance.thickness.value == pytest.approx(thickness.nominal_value, rel=0.01)
    assert result.balance.thickness.u == pytest.approx(thickness.std_dev, rel=0.01)


@pytest.mark.parametrize("target_um", [0.0, 12.0, -7.5])
@pytest.mark.parametrize("face", ["up", "down"])
def test_a_balancing_layer_reaches_its_target(target_um: float, face: str) -> None:
    body = state("bare") + state("oxide", layer("-300 MPa ± 5 MPa", "500 nm ± 1 %"))
    bow = value(found(body).states[-1].bow) * 1e6
    pull = math.copysign(300.0, target_um - bow) * (1 if face == "up" else -1)
    told = f'stress = "{pull} MPa ± 9 MPa", face = "{face}", modulus = "200 GPa (exact)"'
    balanced = found(
        body + f'[balance]\ntarget_bow = "{target_um} um"\nlayer = {{ {told} }}\n'
    ).balance
    assert balanced is not None
    assert balanced.thickness is not None
    assert balanced.bow is not None
    assert balanced.bow.value == pytest.approx(target_um * 1e-6, abs=1e-12)
    # Put on the wafer in earnest, as a state of its own.
    made = layer(
        f"{pull} MPa ± 9 MPa",
        f"{balanced.thickness.value!r} m (exact)",
        face,
        ', modulus = "200 GPa (exact)"',
    )
    after = found(body + state("made", made)).states[-1].bow
    assert after is not None
    assert after.value == pytest.approx(target_um * 1e-6, abs=1e-10)
    assert after.u == pytest.approx(balanced.bow.u, rel=1e-3)


def test_the_published_way_to_balance_a_front_film() -> None:
    # 250 MPa x 1 um in front, +400 MPa behind: 0.625 um, by hand.
    result = found(
        state("bare")
        + state("film", layer("250 MPa (exact)", "1 um (exact)", more=SOFT))
        + '[balance]\nlayer = { stress = "400 MPa (exact)", face = "down" }\n'
    )
    assert result.balance is not None
    assert value(result.balance.thickness) == pytest.approx(0.625e-6, rel=0.006)


def test_a_layer_of_the_wrong_sign_is_refused() -> None:
    result = found(
        state("bare")
        + state("film", layer("250 MPa (exact)", "1 um (exact)"))
        + '[balance]\nlayer = { stress = "400 MPa (exact)", face = "up" }\n'
    )
    assert result.balance is not None
    assert result.refused
    assert "wrong way" in result.balance.refusal
    assert "other face" in result.balance.refusal
    assert value(result.states[-1].bow) > 0.0


@pytest.mark.parametrize(("modulus", "expansion", "hot", "thermal"), [
    # Al on Si, E 70 GPa, nu 0.35, and SiO2, E 72 GPa, nu 0.17, both elastic, with silicon's
    # expansion by Okada & Tokumaru (1984): integrated by hand.
    (70e9 / 0.65, "24.5 ppm/K (exact)", "300 degC (exact)", 639.570046e6),
    (72e9 / 0.83, "0.5 ppm/K (exact)", "1000 degC (exact)", -290.838715e6),
])  # fmt: skip
def test_thermal_part(modulus: float, expansion: str, hot: str, thermal: float) -> None:
    more = (
        f', modulus = "{modulus!r} Pa (exact)", expansion = "{expansion}", '
        f'deposited_at = "{hot}", measured_at = "20 degC (exact)"'
    )
    result = found(state("bare") + state("a", layer("500 MPa ± 5 MPa", "1 um ± 1 %", more=more)))
    film = result.states[1]
    assert value(film.thermal) == pytest.approx(thermal, rel=1e-6)
    assert value(film.intrinsic) == pytest.approx(500e6 - thermal, rel=1e-6)
    assert film.thermal is not None
    assert film.intrinsic is not None
    # Only silicon's own 0.2 ppm/K is left in doubt.
    span = float(hot.split()[0]) - 20.0
    assert film.thermal.u == pytest.approx(modulus * 0.2e-6 * span, rel=1e-9)
    assert film.intrinsic.u == pytest.approx(math.hypot(5e6, film.thermal.u or 0.0), rel=1e-9)
