"""Place and spread of a process as capability takes them: within or total, raw or net."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.variance_components.records import Components


class SpreadKind(StrEnum):
    """Which spread an index rests on, and so its name."""

    WITHIN = "within subgroups"  # Cp, Cpk: what the process could do without shifts between them
    TOTAL = "total"  # Pp, Ppk: what it did


@dataclass(frozen=True, slots=True)
class Process:
    """Place and spread of a process, and how well they are known.

    Attributes
    ----------
    mean, mean_u : float
        Mean and its standard uncertainty [unit].
    sigma : float
        Standard deviation of one item [unit].
    dof : float
        Degrees of freedom of ``sigma``.
    kind : SpreadKind
        Which spread ``sigma`` is.
    removed_u : float
        Standard uncertainty of the measurement that was taken out of ``sigma``; 0 for the raw one.
    components : Components or None
        Nested data it came from; None for independent items.
    chosen : tuple of int
        Those of the components that make up ``sigma``, before anything was taken out.
    """

    mean: float
    mean_u: float
    sigma: float
    dof: float
    kind: SpreadKind
    removed_u: float = 0.0
    components: Components | None = None
    chosen: tuple[int, ...] = ()

    @property
    def count(self) -> float:
        """Number of independent items that would know the mean as well, (sigma / mean_u)^2."""
        return (self.sigma / self.mean_u) ** 2


def process_of_values(values: ArrayLike) -> Process:
    """Process from independent items: mean and total standard deviation.

    Raises
    ------
    UsageError
        If a number is not finite.
    RefusedInput
        If fewer than two items came, or they do not scatter.

    Notes
    -----
    Wafers of one lot are not independent: take `process_of_components` of a nested analysis.
    """
    row = np.asarray(values, dtype=np.float64)
    if row.ndim != 1 or not np.isfinite(row).all():
        raise UsageError(f"values of shape {row.shape} came, a row of finite numbers is wanted")
    if len(row) < 2 or not np.ptp(row) > 0.0:
        raise RefusedInput(
            f"{len(row)} values without a spread came: a capability wants values that scatter"
        )
    sigma = float(row.std(ddof=1))
    mean_u = sigma / math.sqrt(len(row))
    return Process(float(row.mean()), mean_u, sigma, len(row) - 1.0, SpreadKind.TOTAL)


def process_of_components(
    found: Components, *, kind: SpreadKind = SpreadKind.TOTAL, leave_out: tuple[str, ...] = ()
) -> Process:
    """Process from nested data, with the degrees of freedom that lots leave.

    Parameters
    ----------
    found : Components
        From `nested_anova` or `reml_nested`.
    kind : SpreadKind
        TOTAL takes all components, WITHIN all but the outermost.
    leave_out : tuple of str
        Components that are no part of an item's spread, such as the sites on a wafer where the
        limits hold for its mean.

    Raises
    ------
    UsageError
        If a component left out is not there.
    RefusedInput
        If no spread is left.
    """
    names = [one.name for one in found.components]
    if unknown := set(leave_out) - set(names):
        raise UsageError(
            f"'{min(unknown)}' is no component of these data", hint="they are: " + ", ".join(names)
        )
    first = 1 if kind is SpreadKind.WITHIN else 0
    places = tuple(i for i, name in enumerate(names) if i >= first and name not in leave_out)
    chosen = tuple(found.components[i] for i in places)
    variance = sum(one.variance for one in chosen)
    if not variance > 0.0:
        raise RefusedInput("the components chosen are all 0: there is no spread")
    if chosen == found.components:
        dof = found.total.dof
    else:
        lost = sum(one.variance**2 / one.dof for one in chosen if one.dof)
        dof = variance**2 / lost
    sigma = math.sqrt(variance)
    return Process(found.mean, found.mean_u, sigma, dof, kind, components=found, chosen=places)


def without_measurement(process: Process, *, u: float, dof: float = math.inf) -> Process:
    """Take the variance of the measurement out of a process's spread.

    Parameters
    ----------
    process : Process
        As observed.
    u : float
        Standard deviation of repeated measurements of one item [unit]: only what differs from item
        to item.  A shift common to all items is not in the spread and must not be taken out.
    dof : float
        Degrees of freedom of ``u``.

    Raises
    ------
    UsageError
        If ``u`` is negative or not finite.
    RefusedInput
        If the measurement alone would scatter as much as was observed, or more: one of the two is
        wrong, or the process too good for the gauge.

    Notes
    -----
    The degrees of freedom follow Satterthwaite and fall quickly as u nears the observed spread.
    """
    if not (math.isfinite(u) and u >= 0.0):
        raise UsageError(f"a standard uncertainty of {u!r} came, a finite number >= 0 is wanted")
    net = process.sigma**2 - u**2
    if net <= 0.0:
        raise RefusedInput(
            f"repeated measurements scatter by {u:.3g}, all that was observed is"
            f" {process.sigma:.3g}: nothing is left for the process itself",
            hint="report the raw capability, or measure each item more often",
        )
    freedom = net**2 / (process.sigma**4 / process.dof + u**4 / dof)
    return replace(process, sigma=math.sqrt(net), dof=freedom, removed_u=u)
