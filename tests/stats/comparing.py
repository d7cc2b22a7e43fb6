"""Made lots and settings whose truth is known, for coverage studies."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from filmstress.records.budget import Term
from filmstress.stats.comparison import difference
from filmstress.stats.crossing import crossing
from filmstress.stats.groups import group
from filmstress.stats.multiple_comparison import all_pairs
from filmstress.stats.straight_line import fit_line
from filmstress.stats.variance_components.gauge_study import gauge_study

MEANS = (-200.0, -180.0, -185.0)


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


def family_holds(rng: np.random.Generator) -> bool:
    """Whether the intervals of three recipes hold all three truths."""
    groups = [
        group(str(i), _lots(rng, mean, 6, 8.0 + 3.0 * i, 1.0)) for i, mean in enumerate(MEANS)
    ]
    return all(
        pair.low <= MEANS[int(pair.first)] - MEANS[int(pair.second)] <= pair.high
        for pair in all_pairs(groups).pairs
    )


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
    "three recipes at once": family_holds,
    "zero crossing": crossing_holds,
    "repeatability": repeatability_holds,
}
