"""Made lots and settings whose truth is known, for coverage studies."""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import NDArray

from filmstress.records.budget import Term
from filmstress.stats.comparison import difference
from filmstress.stats.crossing import crossing
from filmstress.stats.groups import group
from filmstress.stats.multiple_comparison import all_pairs
from filmstress.stats.straight_line import fit_line
from filmstress.stats.variance_components.gauge_study import gauge_study

MEANS = (-200.0, -180.0, -185.0, -120.0)


def scale_term(stress: float, u: float = 0.02) -> tuple[Term, ...]:
    """A factor that all stresses share."""
    return (Term(input="scale", value=1.0, unit="1", u=u, sensitivity=stress, common_to="gauge"),)


def _lots(
    rng: np.random.Generator, mean: float, count: int, sd: float, scale: float
) -> NDArray[np.float64]:
    return scale * (mean + sd * rng.normal(size=count))


def difference_holds(rng: np.random.Generator) -> bool:
    """Whether the interval of recipes of 4 and 6 lots holds; they share a scale of 2 %."""
    scale = 1.0 + 0.02 * rng.normal()
    a, b = _lots(rng, MEANS[0], 4, 8.0, scale), _lots(rng, MEANS[1], 6, 12.0, scale)
    first = group("a", a, [scale_term(v) for v in a])
    second = group("b", b, [scale_term(v) for v in b])
    found = difference(first, second)
    return bool(found.low <= MEANS[0] - MEANS[1] <= found.high)


def _family_holds(
    rng: np.random.Generator, counts: tuple[int, ...], *, shared: bool, equal_spread: bool = False
) -> bool:
    """Whether the intervals of recipes of so many lots hold all true differences at once.

    Shared are a factor of all, 2 %, and an offset of the gauge that measured all but the first.
    """
    scale, offset = (1.0 + 0.02 * rng.normal(), 6.0 * rng.normal()) if shared else (1.0, 0.0)
    groups = []
    for i, (mean, count) in enumerate(zip(MEANS, counts, strict=False)):
        sd = 10.0 if equal_spread else 8.0 + 3.0 * i
        values = _lots(rng, mean, count, sd, scale) + (offset if i else 0.0)
        terms = [(*scale_term(v), *(_offset_term() if i else ())) for v in values]
        groups.append(group(str(i), values, terms if shared else ()))
    return all(
        pair.low <= MEANS[int(pair.first)] - MEANS[int(pair.second)] <= pair.high
        for pair in all_pairs(groups, equal_spread=equal_spread).pairs
    )


def _offset_term() -> tuple[Term, ...]:
    return (Term(input="zero", value=0.0, unit="", u=6.0, sensitivity=1.0, common_to="gauge 2"),)


def crossing_holds(rng: np.random.Generator) -> bool:
    """Whether the set of a zero crossing at 0.8, of a shallow slope, holds it."""
    x = np.linspace(0.4, 1.0, 6)
    y = 200.0 * (x - 0.8) + 25.0 * rng.normal(size=6)
    return crossing(fit_line(x, y)).set.holds(0.8)


def repeatability_holds(rng: np.random.Generator) -> bool:
    """Whether the interval of repeats of a nested study holds the truth."""
    y = 5.0 * rng.normal(size=(5, 1, 1)) + 3.0 * rng.normal(size=(5, 3, 1))
    y = y + 2.0 * rng.normal(size=(5, 3, 3))
    part, loading, _ = np.indices(y.shape).reshape(3, -1).tolist()
    found = gauge_study(y.ravel(), part, loading, within=True).repeatability
    return found.low <= 4.0 <= found.high


STUDIES = {
    "difference of two recipes": difference_holds,
    "three recipes at once": partial(_family_holds, counts=(6, 6, 6), shared=False),
    "three recipes, 3, 5 and 8 lots": partial(_family_holds, counts=(3, 5, 8), shared=False),
    "three recipes, shared inputs": partial(_family_holds, counts=(6, 6, 6), shared=True),
    "three recipes, one spread": partial(
        _family_holds, counts=(3, 3, 3), shared=False, equal_spread=True
    ),
    "four recipes, shared inputs": partial(_family_holds, counts=(5, 4, 6, 8), shared=True),
    "zero crossing": crossing_holds,
    "repeatability": repeatability_holds,
}
