"""A gauge's own scatter: parts measured repeatedly, by several operators (or loadings, or days)."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.variance_components.likelihood import reml_component, reml_fit
from filmstress.stats.variance_components.mean_squares import component, interval
from filmstress.stats.variance_components.nested import nested_anova
from filmstress.stats.variance_components.records import Component, MeanSquare, Method

Floats = NDArray[np.float64]
Labels = NDArray[np.intp]

PART, OPERATOR, INTERACTION, REPEAT = "part", "operator", "part by operator", "repeat"


@dataclass(frozen=True, slots=True)
class Bounded:
    """A figure with its coverage interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class GaugeStudy:
    """Repeatability and reproducibility of a gauge.

    Attributes
    ----------
    repeatability : Component
        One operator measuring one part again (EV).
    reproducibility : Component or None
        Between operators (AV), None where there was one only.
    interaction : Component or None
        Operators differing from part to part; None where it was pooled or not studied.
    gauge, part, total : Component
        All of these (GRR); between parts (PV); all together (TV).
    of_total : Bounded
        Gauge over total standard deviation [%], "%GRR".
    categories : int
        Number of parts' groups that the gauge can tell apart: sqrt(2) PV/GRR cut to a whole number
        (with the customary 1.41), at least 1.
    interaction_p : float or None
        p-value of the interaction, before pooling.
    pooled : bool
        The interaction was too small to be seen and was counted as repeatability.
    table : tuple of MeanSquare
        The analysis of variance; empty for REML.
    method : Method
        Analysis of variance for balanced data, REML otherwise.
    p : float
        Coverage probability of the intervals.
    """

    repeatability: Component
    reproducibility: Component | None
    interaction: Component | None
    gauge: Component
    part: Component
    total: Component
    of_total: Bounded
    categories: int
    interaction_p: float | None
    pooled: bool
    table: tuple[MeanSquare, ...]
    method: Method
    p: float

    def of_tolerance(self, width: float) -> Bounded:
        """Six gauge standard deviations over the width of the tolerance [%].

        Raises
        ------
        UsageError
            If ``width`` is not above 0.
        """
        if not (math.isfinite(width) and width > 0.0):
            raise UsageError(
                f"a tolerance of {width!r} came, a width above 0 is wanted",
                hint="upper limit less lower limit",
            )
        variances = (self.gauge.variance, self.gauge.low, self.gauge.high)
        value, low, high = (600.0 * math.sqrt(one) / width for one in variances)
        return Bounded(value, low, high)


def gauge_study(
    values: ArrayLike,
    parts: Sequence[Hashable],
    operators: Sequence[Hashable] | None = None,
    *,
    within: bool = False,
    pool_above: float = 0.25,
    p: float = 0.95,
) -> GaugeStudy:
    """Part the scatter of repeated measurements into gauge and parts.

    Parameters
    ----------
    values : array_like, shape (n,)
        Observations [unit].
    parts, operators : sequence, shape (n,)
        Which part, and who (or on which day, in which loading) measured it.  Every operator
        measures every part, at least twice in all.  Without operators, or with one, only
        repeatability is studied.
    within : bool
        Operators (loadings, more likely) stand within parts: those of one name under two parts
        are different ones.  Numbers of repeats may then differ, and nothing is pooled.
    pool_above : float
        The interaction is counted as repeatability where its p-value lies above this; 1 never
        pools.
    p : float
        Coverage probability of the intervals.

    Raises
    ------
    UsageError
        If lengths differ or a number is not finite.
    RefusedInput
        If nothing was repeated, there is a single part, or an operator left out a part.

    Notes
    -----
    Parts and operators are taken as drawn at random from many.  Two or three operators say little
    about operators in general: see the interval of ``reproducibility``.  With unequal numbers of
    repeats the components are those of greatest restricted likelihood, and nothing is pooled.

    References
    ----------
    ISO 22514-7; ASTM E2782.  Measurement Systems Analysis Reference Manual, 4th ed. (2010), ch. 3.
    R. K. Burdick, C. M. Borror, D. C. Montgomery, J. Qual. Technol. 35 (2003) 342,
    doi:10.1080/00224065.2003.11980232 (intervals).
    """
    y = np.asarray(values, dtype=np.float64)
    labels = [parts] if operators is None else [parts, operators]
    if y.ndim != 1 or not np.isfinite(y).all() or any(len(one) != len(y) for one in labels):
        raise UsageError(
            f"values of shape {y.shape} came, a row of finite numbers with a part (and operator)"
            " for each is wanted"
        )
    if within and operators is not None:
        table = nested_anova(y, {PART: parts, OPERATOR: operators}, residual=REPEAT).table
        return _from_table(table, (PART, OPERATOR, REPEAT), None, False, p)
    part = _codes(parts)
    operator = np.zeros_like(part) if operators is None else _codes(operators)
    cells = np.zeros((part.max() + 1, operator.max() + 1), dtype=np.intp)
    np.add.at(cells, (part, operator), 1)
    if len(cells) < 2 or (cells == 0).any() or cells.max() < 2:
        raise RefusedInput(
            f"{cells.shape[0]} parts by {cells.shape[1]} operators with {cells.min()} to"
            f" {cells.max()} repeats came",
            hint="at least two parts are wanted, each measured by every operator, some repeatedly",
        )
    if (cells == cells[0, 0]).all():
        return _by_anova(y, part, operator, cells, pool_above, p)
    return _by_likelihood(y, part, operator, cells.shape[1], p)


def _by_anova(
    y: Floats, part: Labels, operator: Labels, cells: Labels, pool_above: float, p: float
) -> GaugeStudy:
    from scipy.special import fdtrc

    (a, b), r = cells.shape, int(cells[0, 0])
    data = y[np.lexsort((operator, part))].reshape(a, b, r)
    grand, of_part, of_operator = data.mean(), data.mean(axis=(1, 2)), data.mean(axis=(0, 2))
    cell = data.mean(axis=2)
    apart = float(((cell - of_part[:, None] - of_operator + grand) ** 2).sum()) * r
    within = float(((data - cell[:, :, None]) ** 2).sum())
    if not within > 0.0:
        raise RefusedInput(
            "repeats of a part never differ: the gauge's scatter hides below its last digit",
            hint="take more digits of the values",
        )
    rows = [MeanSquare(PART, b * r * float(((of_part - grand) ** 2).sum()), a - 1, (b * r, 1.0))]
    names, interaction_p, pooled = [PART, REPEAT], None, False
    if b > 1:
        dof = (a - 1) * (b - 1)
        ratio = (apart / dof) / (within / (a * b * (r - 1)))
        interaction_p = float(fdtrc(dof, a * b * (r - 1), ratio))
        pooled = interaction_p > pool_above
        squares = a * r * float(((of_operator - grand) ** 2).sum())
        if pooled:
            names = [PART, OPERATOR, REPEAT]
            rows = [
                MeanSquare(PART, rows[0].sum_of_squares, a - 1, (b * r, 0.0, 1.0)),
                MeanSquare(OPERATOR, squares, b - 1, (0.0, a * r, 1.0)),
            ]
            within, rest = within + apart, a * b * (r - 1) + dof
        else:
            names = [PART, OPERATOR, INTERACTION, REPEAT]
            rows = [
                MeanSquare(PART, rows[0].sum_of_squares, a - 1, (b * r, 0.0, r, 1.0)),
                MeanSquare(OPERATOR, squares, b - 1, (0.0, a * r, r, 1.0)),
                MeanSquare(INTERACTION, apart, dof, (0.0, 0.0, r, 1.0)),
            ]
            rest = a * b * (r - 1)
    else:
        rest = a * (r - 1)
    rows.append(MeanSquare(REPEAT, within, rest, (*(0.0,) * (len(names) - 1), 1.0)))
    return _from_table(tuple(rows), names, interaction_p, pooled, p)


def _from_table(
    table: tuple[MeanSquare, ...],
    names: Sequence[str],
    interaction_p: float | None,
    pooled: bool,
    p: float,
) -> GaugeStudy:
    inverse = np.linalg.inv(np.array([row.expected for row in table]))
    parted = {
        name: component(name, row, table, p=p) for name, row in zip(names, inverse, strict=True)
    }

    def sum_of(chosen: Sequence[int]) -> Callable[[Sequence[Floats]], Floats]:
        # A negative component counts as 0 in a sum as well.
        return lambda draws: np.asarray(
            sum(np.maximum(np.tensordot(inverse[i], np.stack(draws), axes=1), 0.0) for i in chosen)
        )

    every = range(len(names))
    gauge = _sum("gauge", names[1:], parted, table, sum_of(every[1:]), p)
    total = _sum("total", names, parted, table, sum_of(every), p)

    def share(draws: Sequence[Floats]) -> Floats:
        return 100.0 * np.sqrt(sum_of(every[1:])(draws) / sum_of(every)(draws))

    low, high = interval(table, share, p=p)
    return _study(parted, gauge, total, (low, high), interaction_p, pooled, table, Method.ANOVA, p)


def _sum(
    name: str,
    members: Sequence[str],
    parted: dict[str, Component],
    table: Sequence[MeanSquare],
    draws: Callable[[Sequence[Floats]], Floats],
    p: float,
) -> Component:
    variance = sum(parted[one].variance for one in members)
    low, high = interval(table, draws, p=p)
    # To first order from the squared standard errors of its members.
    lost = sum(parted[one].variance ** 2 / parted[one].dof for one in members if parted[one].dof)
    return Component(name, variance, variance, low, high, variance**2 / lost)


def _by_likelihood(
    y: Floats, part: Labels, operator: Labels, operators: int, p: float
) -> GaugeStudy:
    groupings, names = [part], [PART]
    if operators > 1:
        groupings += [operator, part * operators + operator]
        names += [OPERATOR, INTERACTION]
    fit = reml_fit(y, np.ones((len(y), 1)), groupings)
    names.append(REPEAT)
    parted = {}
    for i, name in enumerate(names):
        variance = float(fit.variances[i])
        error = math.sqrt(float(fit.covariance[i, i])) if variance else float(fit.errors[i])
        parted[name] = reml_component(name, variance, error, p=p)
    ones = np.ones(len(names))
    on_gauge = ones.copy()
    on_gauge[0] = 0.0
    gauge, total = (
        reml_component(name, float(on @ fit.variances), math.sqrt(on @ fit.covariance @ on), p=p)
        for name, on in (("gauge", on_gauge), ("total", ones))
    )
    share = gauge.variance / total.variance
    slope = (on_gauge - share * ones) / total.variance
    error = math.sqrt(slope @ fit.covariance @ slope)
    bounds = _share_bounds(share, error, p)
    return _study(parted, gauge, total, bounds, None, False, (), Method.REML, p)


def _share_bounds(share: float, error: float, p: float) -> tuple[float, float]:
    """Bounds of 100 sqrt(share), on the scale of log(share / (1 - share)), to first order."""
    from scipy.special import expit, logit, ndtri

    if share >= 1.0:
        return 100.0 * math.sqrt(max(0.0, 1.0 - float(ndtri(p)) * error)), 100.0
    half = float(ndtri(0.5 * (1.0 + p))) * error / (share * (1.0 - share))
    low, high = (100.0 * math.sqrt(float(expit(logit(share) + side))) for side in (-half, half))
    return low, high


def _study(
    parted: dict[str, Component],
    gauge: Component,
    total: Component,
    share_bounds: tuple[float, float],
    interaction_p: float | None,
    pooled: bool,
    table: tuple[MeanSquare, ...],
    method: Method,
    p: float,
) -> GaugeStudy:
    share = 100.0 * math.sqrt(gauge.variance / total.variance)
    return GaugeStudy(
        repeatability=parted[REPEAT],
        reproducibility=parted.get(OPERATOR),
        interaction=parted.get(INTERACTION),
        gauge=gauge,
        part=parted[PART],
        total=total,
        of_total=Bounded(share, *share_bounds),
        categories=max(1, int(1.41 * parted[PART].sd / gauge.sd)),
        interaction_p=interaction_p,
        pooled=pooled,
        table=table,
        method=method,
        p=p,
    )


def _codes(labels: Sequence[Hashable]) -> Labels:
    number = {label: i for i, label in enumerate(dict.fromkeys(labels))}
    return np.array([number[one] for one in labels], dtype=np.intp)
