"""Layers whose stress is that of a recorded recipe."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from filmstress.errors import FilmstressError, HistoryError
from filmstress.physics.stoney import force_per_width
from filmstress.records.budget import Term
from filmstress.records.quantity import Measured
from filmstress.records.stack import Known, RecipeAsked, Recorded, StackResult
from filmstress.stacks.measuring import measure_stack
from filmstress.stacks.parts import StackPlate
from filmstress.stacks.reading import stack_of_text
from tests.stacks._stacks import HEAD, layer, spec, state

BARE = state("bare")
ASKED: list[RecipeAsked] = []


def history(asked: RecipeAsked) -> Recorded:
    """Tells -200 ± 10 MPa of a film of 400 nm, of which 6 MPa are known from a mean only."""
    ASKED.append(asked)
    if asked.recipe != "nitride":
        raise HistoryError("no lot of it is recorded", where="there", hint="did you mean it?")
    terms = tuple(
        Term(
            input=name,
            value=-2e8,
            unit="Pa",
            u=u,
            sensitivity=1.0,
            evaluation="A",
            common_to=shared,
        )
        for name, u, shared in (("mean of it", 6e6, "history of it"), ("scatter of it", 8e6, ""))
    )
    return Recorded(
        asked=asked,
        stress=Measured(-2e8, "Pa", 1e7),
        terms=terms,
        lots=("A1", "A2"),
        wafers=6,
        spread=8e6,
        within=3e6,
        film={"thickness": Measured(4e-7, "m", 4e-9), "modulus": Measured(2.2e11, "Pa", 1e10)},
    )


def found(body: str, head: str = HEAD) -> StackResult:
    return measure_stack(stack_of_text(head + body, path=Path("stack.toml"), history=history))


def recipe(more: str = "") -> str:
    return f'layer = {{ recipe = "nitride"{more} }}'


def test_a_recipe_gives_stress_thickness_and_modulus() -> None:
    result = found(BARE + state("nitride", recipe()))
    told = result.states[1]
    assert told.known is Known.RECORDED
    assert told.layer is not None
    assert told.layer.film.modulus == Measured(2.2e11, "Pa", 1e10)
    assert told.stress is not None
    assert told.stress.value == pytest.approx(-2e8)
    assert told.stress.u == pytest.approx(1e7)
    assert told.force is not None
    assert told.force.value == pytest.approx(-80.0)
    assert told.force.u == pytest.approx(80.0 * math.hypot(0.05, 0.01))


def test_the_bow_is_that_of_the_stress_stated() -> None:
    by_recipe = found(BARE + state("nitride", recipe(', face = "down"')))
    stated = layer("-200 MPa ± 10 MPa", "400 nm ± 1 %", "down", ', modulus = "220 GPa ± 10 GPa"')
    by_hand = found(BARE + state("nitride", stated))
    one, other = by_recipe.states[1].bow, by_hand.states[1].bow
    assert one is not None
    assert other is not None
    assert one.value == pytest.approx(other.value)
    assert one.u == pytest.approx(other.u)
    curvature = 8.0 * one.value / 0.12**2
    back = force_per_width(
        modulus_pa=by_recipe.modulus.value,
        substrate_thickness_m=675e-6,
        curvature_change_per_m=-curvature,
    )
    assert back / 4e-7 == pytest.approx(-2e8, rel=4e-3)  # 1 + h_f/h_s and the film's own stiffness


def test_layers_of_one_recipe_share_its_mean() -> None:
    """Of n layers, n^2 times the variance of the mean and n times that of the scatter."""
    exact = recipe(', thickness = "400 nm (exact)"')
    result = found(BARE + "".join(state(f"n{i}", exact) for i in range(3)))
    total = result.states[-1].total
    assert total is not None
    assert total.u == pytest.approx(0.4 * math.sqrt(9 * 36.0 + 3 * 64.0), rel=1e-6)


def test_what_is_stated_wins_and_rivals_stay_away() -> None:
    more = ', thickness = "100 nm", youngs_modulus = "160 GPa", poisson_ratio = 0.25'
    told = found(BARE + state("nitride", recipe(more))).states[1].layer
    assert told is not None
    assert told.film.thickness is not None
    assert told.film.thickness.value == pytest.approx(1e-7)
    assert told.film.modulus is None


def test_the_balancing_layer_may_be_a_recipe() -> None:
    body = BARE + state("oxide", layer("-300 MPa ± 10 MPa", "200 nm ± 1 %", "down"))
    result = found(body + '[balance]\nlayer = { recipe = "nitride" }\n')
    balance = result.balance
    assert balance is not None
    assert balance.thickness is not None
    assert balance.thickness.value == pytest.approx(3e-7, rel=5e-3)
    assert "mean of it" in {row.term.input for row in balance.budget.rows}  # type: ignore[union-attr]


def test_lots_and_times_are_handed_on() -> None:
    more = ', lots = ["A1", "A2"], since = 2026-03-14, until = "2026-06-30"'
    found(BARE + state("nitride", recipe(more)))
    assert ASKED[-1] == RecipeAsked("nitride", ("A1", "A2"), "2026-03-14", "2026-06-30")


@pytest.mark.parametrize(
    ("of_layer", "words"),
    [
        ('recipe = "nitrite"', "no lot of it is recorded"),
        ('recipe = "nitride", stress = "1 MPa"', "keep the one or the other"),
        ('thickness = "1 um", lots = ["A1"]', "'lots' speaks of the lots of a recipe"),
        ('recipe = "nitride", lots = []', "a list of lots is wanted"),
        ('recipe = "nitride", lots = "A1"', "a list of lots is wanted"),
        ('recipe = "nitride", lots = [1]', "layer.lots"),
        ('recipe = "nitride", since = "spring"', "'spring' is no date"),
        ("recipe = 5", "layer.recipe"),
        ('recip = "nitride"', "did you mean 'recipe'"),
    ],
)
def test_faults_name_their_place(of_layer: str, words: str) -> None:
    with pytest.raises(FilmstressError) as caught:
        found(BARE + state("nitride", f"layer = {{ {of_layer} }}"))
    told = str(caught.value)
    assert words in told
    assert "state nitride" in told
    assert "neither measured nor stated" not in told


def test_without_a_history_it_is_said() -> None:
    with pytest.raises(FilmstressError, match="no history to look it up in"):
        stack_of_text(HEAD + BARE + state("nitride", recipe()), path=Path("stack.toml"))


def test_the_modulus_that_recipe_and_stack_share_drops_out_of_the_bow() -> None:
    """A stress measured with a modulus too high bends this wafer, of the same modulus, as before.

    The bow goes with stress over modulus; the recipe's stress with the modulus (JCGM 100, 5.2).
    """
    plate = StackPlate.of(spec(BARE).substrate, (0.0,))
    (modulus,) = plate.modulus_terms
    slope = -2e8 / modulus.value
    own = replace(modulus, sensitivity=slope)
    other = replace(own, common_to="another table")

    def bow_u(*terms: Term) -> float:
        def told(asked: RecipeAsked) -> Recorded:
            return replace(history(asked), terms=terms)

        text = HEAD + BARE + state("nitride", recipe(', thickness = "400 nm (exact)"'))
        found = measure_stack(stack_of_text(text, path=Path("stack.toml"), history=told))
        bow = found.states[1].bow
        assert bow is not None
        assert bow.u is not None
        return bow.u / abs(bow.value)

    relative = modulus.contribution / modulus.value
    assert bow_u(other) == pytest.approx(math.sqrt(2.0) * relative, rel=1e-3)
    assert bow_u(own) == pytest.approx(0.0, abs=0.01 * relative)
