"""Uncertainty budgets by the law of propagation of uncertainty (JCGM 100:2008, the GUM)."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from filmstress.errors import UsageError
from filmstress.records.budget import Budget, BudgetRow, Evaluation, Term
from filmstress.records.quantity import Measured

Correlations = Mapping[tuple[str, str], float]
"""Correlation coefficients of pairs of inputs, by name; each pair once, in either order."""


def term(
    input: str,
    measured: Measured,
    sensitivity: float,
    *,
    evaluation: Evaluation = "B",
    common_to: str = "",
) -> Term:
    """Make the budget term of a stated input.

    Parameters
    ----------
    input : str
        Name of the input as the reader sees it.
    measured : Measured
        The input; its uncertainty must be known.
    sensitivity : float
        Partial derivative of the output with respect to it [unit of output / unit of input].
    evaluation, common_to
        As in `Term`.

    Raises
    ------
    UsageError
        If the input's uncertainty was neither stated nor given a default.
    """
    if measured.u is None:
        raise UsageError(
            "its uncertainty is neither stated nor given a default, a budget needs one",
            where=input,
            hint=f"write '{measured.value:g} {measured.unit} ± ...' or '(exact)'",
        )
    return Term(
        input=input,
        value=measured.value,
        unit=measured.unit,
        u=measured.u,
        sensitivity=sensitivity,
        dof=measured.dof,
        shape=measured.shape,
        evaluation=evaluation,
        common_to=common_to,
        source=measured.source,
    )


def combine(terms: Iterable[Term], correlations: Correlations | None = None) -> Budget:
    """Combine terms into the uncertainty of the output, with the share of each.

    Parameters
    ----------
    terms : iterable of Term
        Independent, except for the pairs in ``correlations``.  Two terms that are one quantity
        are not independent: `merge_shared` them first.
    correlations : mapping of (str, str) to float
        Correlation coefficients by the names of the inputs.

    Returns
    -------
    Budget
        u^2 = sum of c_i c_j u_i u_j r_ij over all i and j; the share of input i is its row of
        that sum over u^2.  The degrees of freedom follow Welch and Satterthwaite, which holds for
        independent terms only: inputs tied by correlation count as one term there, with the
        fewest degrees of freedom among them (exact where all come from one fit).

    Raises
    ------
    UsageError
        If an uncertainty is negative or a number not finite, if a correlation names an input that
        is missing or stands twice, or if the coefficients contradict each other.

    References
    ----------
    JCGM 100:2008, equations 10, 13 and 16 (u), G.2b (degrees of freedom).
    """
    terms = tuple(terms)
    for one in terms:
        _check(one)
    # Scaled by the largest contribution, no square under- or overflows.
    largest = max((one.contribution for one in terms), default=0.0)
    if largest == 0.0:
        return Budget(tuple(BudgetRow(one, 0.0) for one in terms), 0.0, math.inf)
    signed = [math.copysign(one.contribution / largest, one.sensitivity) for one in terms]
    pulls, groups = _independent(signed) if not correlations else _tied(terms, signed, correlations)
    variance = math.fsum(pulls)
    if variance <= 1e-15 * math.fsum(map(abs, pulls)):  # full cancellation, but for rounding
        return Budget(tuple(BudgetRow(one, 0.0) for one in terms), 0.0, math.inf)
    rows = [BudgetRow(one, pull / variance) for one, pull in zip(terms, pulls, strict=True)]
    rows.sort(key=lambda row: row.share, reverse=True)
    lost = math.fsum(
        (math.fsum(pulls[i] for i in group) / variance) ** 2 / min(terms[i].dof for i in group)
        for group in groups
    )
    return Budget(tuple(rows), largest * math.sqrt(variance), 1.0 / lost if lost else math.inf)


def scale(terms: Iterable[Term], factor: float) -> tuple[Term, ...]:
    """Re-express terms for an output that is ``factor`` times the one they were made for."""
    return tuple(
        replace(
            one,
            sensitivity=factor * one.sensitivity,
            parts=tuple((name, factor * effect) for name, effect in one.parts),
        )
        for one in terms
    )


def parted(terms: Iterable[Term]) -> tuple[Term, ...]:
    """The terms with every row that stands for several inputs as its parts, a term each.

    Several outputs may depend on those inputs in different proportions and with different signs
    (moduli along two azimuths), which only the parts tell.
    """
    return tuple(
        part
        for one in terms
        for part in (
            tuple(
                replace(one, input=f"{one.input}, {name}", u=1.0, sensitivity=effect, parts=())
                for name, effect in one.parts
            )
            or (one,)
        )
    )


def merge_shared(terms: Iterable[Term]) -> tuple[Term, ...]:
    """Join terms that are one and the same quantity, so that what is shared adds or cancels.

    Terms of equal ``input`` and equal, non-empty ``common_to`` are one quantity: their signed
    contributions add.  The mean over n items is the terms of each, scaled by 1/n, joined here; the
    difference of two means is the terms of one and those of the other scaled by -1.

    Returns
    -------
    tuple of Term
        In the order of first appearance.  A joined term keeps the value and ``u`` of the first
        and the fewest degrees of freedom of its parts.
    """
    merged: dict[tuple[str, str] | int, Term] = {}
    for position, one in enumerate(terms):
        key = (one.input, one.common_to) if one.common_to else position
        merged[key] = _joined(merged[key], one) if key in merged else one
    return tuple(merged.values())


def share_of(budget: Budget, input: str) -> float:
    """Share of the output's variance that the rows of this input bring; 0 if there is none."""
    return math.fsum(row.share for row in budget.rows if row.term.input == input)


def most_worth_improving(budget: Budget) -> BudgetRow | None:
    """Row with the largest share: the input to measure better first; None where u is 0."""
    return budget.rows[0] if budget.rows and budget.u > 0.0 else None


def required_u(budget: Budget, input: str, *, target_u: float) -> float | None:
    """Find how well an input must be known for the combined uncertainty to come down to a target.

    Parameters
    ----------
    budget : Budget
        Of independent terms.
    input : str
        Name of the input, standing once in the budget.
    target_u : float
        Combined standard uncertainty wanted [unit of output].

    Returns
    -------
    float or None
        Standard uncertainty of the input [its unit]; None where the others alone exceed the
        target or the output does not depend on it.  Larger than the present one where the target
        is already met.

    Raises
    ------
    UsageError
        If the input does not stand exactly once in the budget.
    """
    rows = [row for row in budget.rows if row.term.input == input]
    if len(rows) != 1:
        raise UsageError(
            f"it stands {len(rows)} times in the budget, once is wanted",
            where=input,
            hint="the inputs are: " + ", ".join(sorted({row.term.input for row in budget.rows})),
        )
    others = math.hypot(*(row.term.contribution for row in budget.rows if row is not rows[0]))
    slope = abs(rows[0].term.sensitivity)
    if target_u <= others or slope == 0.0:
        return None
    return math.sqrt((target_u - others) * (target_u + others)) / slope


def _check(one: Term) -> None:
    if not (math.isfinite(one.u) and one.u >= 0.0 and math.isfinite(one.contribution)):
        raise UsageError(
            f"standard uncertainty {one.u!r} with sensitivity {one.sensitivity!r} came,"
            " finite numbers and an uncertainty of at least 0 are wanted",
            where=one.input,
            hint="an uncertainty that is not known has no place in a budget: say so beside it",
        )
    if not one.dof > 0.0:
        raise UsageError(
            f"degrees of freedom of {one.dof!r} came, a number above 0 is wanted",
            where=one.input,
            hint="an infinite number stands for an uncertainty that is known for certain",
        )


def _joined(first: Term, second: Term) -> Term:
    dof = min(first.dof, second.dof)
    if first.u == 0.0:
        # Nothing can be expressed as a multiple of u = 0, and an exact part adds nothing.
        return replace(second, dof=dof) if second.u > 0.0 else first
    if first.parts and second.parts:
        effects = dict(first.parts)
        for name, effect in second.parts:
            effects[name] = effects.get(name, 0.0) + effect
        size = math.copysign(math.hypot(*effects.values()) / first.u, first.sensitivity)
        return replace(first, sensitivity=size, dof=dof, parts=tuple(effects.items()))
    ratio = second.u / first.u
    return replace(first, sensitivity=first.sensitivity + second.sensitivity * ratio, dof=dof)


def _independent(signed: Sequence[float]) -> tuple[list[float], list[list[int]]]:
    return [one * one for one in signed], [[i] for i in range(len(signed))]


def _tied(
    terms: Sequence[Term], signed: Sequence[float], correlations: Correlations
) -> tuple[list[float], list[list[int]]]:
    """Contribution of each term to the variance, and the groups that correlation ties together."""
    count = Counter(one.input for one in terms)
    place = {one.input: i for i, one in enumerate(terms)}
    matrix = np.eye(len(terms))
    group = list(range(len(terms)))
    for (a, b), r in correlations.items():
        for name in (a, b):
            if count[name] != 1:
                raise UsageError(
                    f"a correlation names it and it stands {count[name]} times among the terms,"
                    " once is wanted",
                    where=name,
                    hint="the inputs are: " + ", ".join(sorted(count)),
                )
        if a == b or not -1.0 <= r <= 1.0:
            raise UsageError(
                f"a correlation coefficient of {r!r} came, a number from -1 to 1 between two"
                " different inputs is wanted",
                where=f"{a} and {b}",
                hint="covariance / (u of the one * u of the other)",
            )
        i, j = place[a], place[b]
        matrix[i, j] = matrix[j, i] = r
        if r != 0.0:
            old, new = group[j], group[i]
            group = [new if one == old else one for one in group]
    if np.linalg.eigvalsh(matrix)[0] < -1e-9 * len(terms):
        raise UsageError(
            "the correlation coefficients contradict each other: no quantities can have them all",
            hint="take them from one covariance matrix, unrounded",
        )
    vector = np.array(signed)
    pulls = [float(one) for one in vector * (matrix @ vector)]
    members: dict[int, list[int]] = {}
    for i, one in enumerate(group):
        members.setdefault(one, []).append(i)
    return pulls, list(members.values())
