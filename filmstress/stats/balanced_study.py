"""Variance components of balanced studies: what parts, operators and repeats each bring."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.errors import RefusedInput, UsageError

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class AnovaRow:
    """One line of an analysis of variance.

    Attributes
    ----------
    source : str
    sum_of_squares : float
        [unit^2].
    dof : int
    mean_square : float
        [unit^2].
    """

    source: str
    sum_of_squares: float
    dof: int
    mean_square: float


@dataclass(frozen=True, slots=True)
class Component:
    """Variance that one source brings.

    Attributes
    ----------
    source : str
    variance : float
        [unit^2], at least 0.
    dof : float
        Effective degrees of freedom (Satterthwaite); 0 where the variance is 0.
    negative : bool
        Whether the mean squares gave less than 0, which is taken as 0.
    """

    source: str
    variance: float
    dof: float
    negative: bool = False

    @property
    def sd(self) -> float:
        """Standard deviation [unit]."""
        return math.sqrt(self.variance)


@dataclass(frozen=True, slots=True)
class Components:
    """A study taken apart.

    Attributes
    ----------
    mean : float
        Of all values [unit].
    rows : tuple of AnovaRow
        The analysis of variance, before anything is pooled.
    parts : Component
        Among the things measured.
    between : tuple of Component
        What the measurement adds between repeats: operators and their interaction with parts, or
        loadings.
    repeats : Component
        Among repeats alike in everything.
    gauge : Component
        All but parts: repeatability and reproducibility together.
    interaction_p : float or None
        Probability of an interaction this large by chance; None where there is no such test.
    pooled : bool
        Whether the interaction was taken as scatter of repeats.
    """

    mean: float
    rows: tuple[AnovaRow, ...]
    parts: Component
    between: tuple[Component, ...]
    repeats: Component
    gauge: Component
    interaction_p: float | None = None
    pooled: bool = False

    @property
    def total_sd(self) -> float:
        """Standard deviation of one reading of one part [unit]."""
        return math.sqrt(self.gauge.variance + self.parts.variance)

    @property
    def gauge_share(self) -> float:
        """Standard deviation of the gauge over the total (% GRR / 100)."""
        return self.gauge.sd / self.total_sd

    @property
    def categories(self) -> int | None:
        """Number of distinct categories of parts; None where the gauge brings nothing.

        sqrt(2) times the parts' standard deviation over the gauge's, cut to a whole number, at
        least 1.  The factor is written 1.41 in the trade.
        """
        if self.gauge.sd == 0.0:
            return None
        return max(1, math.floor(1.41 * self.parts.sd / self.gauge.sd))


def crossed(values: ArrayLike, *, pool_above: float = 0.25) -> Components:
    """Take apart a study in which every operator measures every part.

    Parameters
    ----------
    values : array_like, shape (parts, operators, repeats)
        [unit].
    pool_above : float
        The interaction joins the repeats where its p-value lies above this (common practice).

    Raises
    ------
    UsageError
        If the shape is another, fewer than two of anything came, or a number is not finite.
    RefusedInput
        If nothing scatters.

    Notes
    -----
    Expected mean squares of the random model: repeats s^2; interaction s^2 + r s_po^2; operators
    and parts add p r s_o^2 and o r s_p^2.  Components below 0 are taken as 0.

    References
    ----------
    ISO 22514-7:2021; D. C. Montgomery and G. C. Runger, Qual. Eng. 6 (1993) 289,
    doi:10.1080/08982119308918725.
    """
    y = _checked(values, 3)
    p, o, r = y.shape
    mean = float(y.mean())
    by_part, by_operator, by_cell = y.mean(axis=(1, 2)), y.mean(axis=(0, 2)), y.mean(axis=2)
    inner = by_cell - by_part[:, None] - by_operator[None, :] + mean
    rows = (
        _row("parts", o * r * float(((by_part - mean) ** 2).sum()), p - 1),
        _row("operators", p * r * float(((by_operator - mean) ** 2).sum()), o - 1),
        _row("parts x operators", r * float((inner**2).sum()), (p - 1) * (o - 1)),
        _row("repeats", float(((y - by_cell[:, :, None]) ** 2).sum()), p * o * (r - 1)),
    )
    part, operator, both, repeat = rows
    chance = _f_tail(both, repeat)
    if chance > pool_above:
        squares = both.sum_of_squares + repeat.sum_of_squares
        base = error = _row("repeats", squares, both.dof + repeat.dof)
    else:
        base, error = both, repeat
    pooled = base is error
    one = _component("operators", (operator, base), (1.0 / (p * r), -1.0 / (p * r)))
    interaction = _component("parts x operators", (both, repeat), (1.0 / r, -1.0 / r))
    between = (one,) if pooled else (one, interaction)
    repeats = _component("repeats", (error,), (1.0,))
    return Components(
        mean=mean,
        rows=rows,
        parts=_component("parts", (part, base), (1.0 / (o * r), -1.0 / (o * r))),
        between=between,
        repeats=repeats,
        gauge=_together("gauge", (repeats, *between)),
        interaction_p=chance,
        pooled=pooled,
    )


def nested(
    values: ArrayLike, sources: Sequence[str] = ("parts", "loadings", "repeats")
) -> Components:
    """Take apart a study in which every source stands within the one before.

    Parameters
    ----------
    values : array_like, shape (n1, n2, ...)
        Parts first, repeats last; two axes or more [unit].
    sources : sequence of str
        One name an axis.

    Raises
    ------
    UsageError, RefusedInput
        As of `crossed`.

    Notes
    -----
    Restricted maximum likelihood: for balanced nesting it equals the analysis of variance where no
    component is negative; otherwise neighbouring mean squares that fall out of order are pooled.

    References
    ----------
    W. A. Thompson, Ann. Math. Stat. 33 (1962) 273, doi:10.1214/aoms/1177704731.
    S. R. Searle, G. Casella and C. E. McCulloch, Variance Components (1992), ch. 3 and 4.
    """
    y = _checked(values, len(sources))
    rows = []
    for axis, source in enumerate(sources):
        above = y.mean(axis=tuple(range(axis, y.ndim)), keepdims=True)
        here = y.mean(axis=tuple(range(axis + 1, y.ndim)), keepdims=True)
        groups = math.prod(y.shape[:axis])
        squares = float(((here - above) ** 2).sum()) * math.prod(y.shape[axis + 1 :])
        rows.append(_row(source, squares, groups * (y.shape[axis] - 1)))
    _scattering(rows)
    ordered = _in_order(rows)
    found = []
    for axis, source in enumerate(sources):
        under = math.prod(y.shape[axis + 1 :])
        if axis == y.ndim - 1:
            found.append(_component(source, (ordered[axis],), (1.0,)))
            continue
        pair = (ordered[axis], ordered[axis + 1])
        one = _component(source, pair, (1.0 / under, -1.0 / under))
        short = rows[axis].mean_square < rows[axis + 1].mean_square
        found.append(Component(source, one.variance, one.dof, short or one.negative))
    parts, *between, repeats = found
    return Components(
        mean=float(y.mean()),
        rows=tuple(rows),
        parts=parts,
        between=tuple(between),
        repeats=repeats,
        gauge=_together("gauge", (repeats, *between)),
    )


def sd_interval(one: Component, *, p: float = 0.95) -> tuple[float, float]:
    """Interval of a component's standard deviation, by chi-squared with its effective dof.

    Exact for repeats, approximate for others (Satterthwaite).
    """
    from scipy.stats import chi2

    if one.dof <= 0.0:
        return 0.0, math.inf
    tail = 0.5 * (1.0 - p)
    squares = one.dof * one.variance
    low = math.sqrt(squares / float(chi2.isf(tail, one.dof)))
    below = float(chi2.ppf(tail, one.dof))
    return low, math.sqrt(squares / below) if below > 0.0 else math.inf


def _in_order(rows: Sequence[AnovaRow]) -> list[AnovaRow]:
    """Mean squares that fall from parts to repeats; those out of order are pooled."""
    blocks: list[tuple[float, int, int]] = []  # sum of squares, dof, how many
    for row in reversed(rows):
        blocks.append((row.sum_of_squares, row.dof, 1))
        while len(blocks) > 1 and blocks[-1][0] / blocks[-1][1] < blocks[-2][0] / blocks[-2][1]:
            (s1, d1, n1), (s2, d2, n2) = blocks.pop(), blocks.pop()
            blocks.append((s1 + s2, d1 + d2, n1 + n2))
    upward = [_row("", s, d) for s, d, n in blocks for _ in range(n)]
    return upward[::-1]


def _component(source: str, rows: Sequence[AnovaRow], factors: Sequence[float]) -> Component:
    pairs = list(zip(rows, factors, strict=True))
    variance = sum(f * row.mean_square for row, f in pairs)
    scale = max(abs(f * row.mean_square) for row, f in pairs)
    if variance <= 1e-12 * scale:
        return Component(source, 0.0, 0.0, variance < -1e-12 * scale)
    doubt = sum((f * row.mean_square) ** 2 / row.dof for row, f in pairs)
    return Component(source, variance, variance**2 / doubt)


def _together(source: str, parts: Sequence[Component]) -> Component:
    variance = sum(one.variance for one in parts)
    doubt = sum(one.variance**2 / one.dof for one in parts if one.dof > 0.0)
    return Component(source, variance, variance**2 / doubt if doubt > 0.0 else 0.0)


def _row(source: str, squares: float, dof: int) -> AnovaRow:
    return AnovaRow(source, squares, dof, squares / dof)


def _f_tail(over: AnovaRow, under: AnovaRow) -> float:
    from scipy.special import fdtrc

    if under.mean_square == 0.0:
        if over.mean_square == 0.0:
            raise RefusedInput("no reading differs from what its part and operator give")
        return 0.0
    return float(fdtrc(over.dof, under.dof, over.mean_square / under.mean_square))


def _scattering(rows: Sequence[AnovaRow]) -> None:
    if not any(row.sum_of_squares > 0.0 for row in rows[1:]):
        raise RefusedInput("repeats do not differ at all, so they say nothing about the gauge")


def _checked(values: ArrayLike, axes: int) -> Floats:
    y = np.asarray(values, dtype=np.float64)
    if y.ndim != axes or axes < 2 or min(y.shape) < 2 or not np.isfinite(y).all():
        raise UsageError(
            f"values of shape {y.shape} came, {axes} axes of two or more finite numbers are wanted"
        )
    return y
