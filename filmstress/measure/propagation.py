"""Whether the first order can be trusted for a measurement, and Monte Carlo where it cannot."""

from __future__ import annotations

from collections.abc import Mapping

from filmstress.measure.film import Film
from filmstress.measure.model import MeasurementModel
from filmstress.records.notice import Notice, WarningCode
from filmstress.records.propagated import Comparison, MonteCarlo
from filmstress.records.quantity import Estimate
from filmstress.stats.monte_carlo import SEED, agrees, propagate, tolerance_of
from filmstress.stats.second_order import in_doubt

# An end of the interval may be off by half a unit of the first digit of u, and never by more than
# this share of u (a twentieth of the expanded uncertainty).
_MOST_OFF = 0.1
_SPOKEN = {
    "stress": "film stress",
    "force_per_width": "force per width",
    "stress_mismatch": "mismatch stress",
}


def tolerance(u: float) -> float:
    """How far an end of a first-order interval may lie from the drawn one [unit of u].

    JCGM 101:2008, 8.1, with one significant digit of u; but a tenth of u at most, which the rule
    of digits exceeds for a u that begins with 1 to 4.
    """
    return min(tolerance_of(u, 1), _MOST_OFF * u)


def propagated(
    film: Film, first: Mapping[str, Estimate], *, asked: bool = False, seed: int = SEED
) -> MonteCarlo | None:
    """Propagate the distributions of a measurement where asked, or where the first order may fail.

    Parameters
    ----------
    film : Film
    first : mapping of str to Estimate
        First-order results by output name.
    asked : bool
        Whether to do so in any case; otherwise a look at the second order decides, by the first
        of the outputs.
    seed : int
        Of the random numbers.

    Returns
    -------
    MonteCarlo or None
        None where the first order is not in doubt.

    Notes
    -----
    The draws go on until they have settled to a fifth of the tolerance, and to two digits of u.
    """
    model = MeasurementModel(film)
    told = [first[name] for name in model.names]
    if not all(estimate.u for estimate in told):
        return None
    allowed = [tolerance(estimate.u or 0.0) for estimate in told]
    head = told[0]
    if not asked and not (
        head.low is not None
        and head.high is not None
        and in_doubt(
            model,
            model.variates,
            low=head.low,
            high=head.high,
            tolerance=allowed[0],
            p=head.p,
        )
    ):
        return None
    fine = [
        min(0.2 * most, tolerance_of(estimate.u or 0.0))
        for most, estimate in zip(allowed, told, strict=True)
    ]
    drawn = propagate(model, model.variates, seed=seed, p=head.p, tolerances=fine)
    outputs = tuple(
        (
            name,
            Comparison(
                one,
                estimate.low if estimate.low is not None else -float("inf"),
                estimate.high if estimate.high is not None else float("inf"),
                most,
                agrees(one, low=estimate.low, high=estimate.high, tolerance=most),
            ),
        )
        for name, one, estimate, most in zip(model.names, drawn, told, allowed, strict=True)
    )
    return MonteCarlo(seed, asked, outputs)


def on_propagation(found: MonteCarlo | None) -> list[Notice]:
    """A warning where the first order failed."""
    if found is None:
        return []
    failed = [_SPOKEN[name] for name, _ in found.outputs if found.instead(name) is not None]
    if not failed:
        return []
    return [
        Notice(
            WarningCode.FIRST_ORDER_FAILS,
            f"the interval of the {' and the '.join(failed)} by the first order is not the one "
            "that the inputs' distributions make (wide inputs, limits, or few degrees of freedom); "
            "the interval stated is the one by Monte Carlo",
        )
    ]
