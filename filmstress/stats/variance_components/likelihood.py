"""Components of variance by restricted maximum likelihood, for any pattern of random groups.

References
----------
H. D. Patterson and R. Thompson, Biometrika 58 (1971) 545, doi:10.1093/biomet/58.3.545.
S. R. Searle, G. Casella, C. E. McCulloch, Variance Components (1992), ch. 6.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.variance_components.nested import nested_codes
from filmstress.stats.variance_components.profile import Profile
from filmstress.stats.variance_components.records import Component, Components, Method

Floats = NDArray[np.float64]
Labels = NDArray[np.intp]

MOST_OBSERVATIONS = 3000
"""Above this the dense matrices take minutes; means over the innermost level tell the same."""


@dataclass(frozen=True, slots=True, eq=False)
class RemlFit:
    """Variances and fixed effects of greatest restricted likelihood.

    Attributes
    ----------
    variances : ndarray, shape (k + 1,)
        Of the k groupings, the residual last [unit^2]; 0 where the likelihood falls from 0 on.
    covariance : ndarray, shape (k + 1, k + 1)
        Of those above 0 to first order (inverse expected information); 0 in rows of the others.
    errors : ndarray, shape (k + 1,)
        Standard errors of all of them, those of 0 included.
    effects, effects_covariance : ndarray
        Coefficients of the columns of the design and their covariance.
    log_likelihood : float
        Restricted, without the constant.
    """

    variances: Floats
    covariance: Floats
    errors: Floats
    effects: Floats
    effects_covariance: Floats
    log_likelihood: float


def reml_fit(
    y: Floats,
    design: Floats,
    groupings: Sequence[Labels],
    *,
    near: Sequence[float] | None = None,
) -> RemlFit:
    """Fit y = design @ effects + one random effect for each group of each grouping + residual.

    Parameters
    ----------
    y : ndarray, shape (n,)
        Observations.
    design : ndarray, shape (n, q)
        Columns of the fixed effects, of full rank.
    groupings : sequence of ndarray of int, shape (n,)
        Number of the group of each observation; nested or crossed.
    near : sequence of float, optional
        Where to look first: each grouping's variance over that of the residuals.

    Raises
    ------
    RefusedInput
        If there are too many observations, no scatter, or no maximum is found.

    Notes
    -----
    The residual variance is profiled out and the likelihood climbed in the square roots of the
    other variances over it (L-BFGS-B with analytic slopes), from several starts; variances of 0 are
    kept where the slope at 0 points down.
    """
    _check_design(y, design)
    n = len(y)
    if n > MOST_OBSERVATIONS:
        raise RefusedInput(f"{n} observations came, at most {MOST_OBSERVATIONS} can be fitted")
    dof = n - design.shape[1]
    start = y - design @ np.linalg.lstsq(design, y, rcond=None)[0]
    size = float(start @ start) / dof if dof > 0 else 0.0
    if not size > 0.0:
        raise RefusedInput("the observations do not scatter: there is no variance to part")
    scaled = y / math.sqrt(size)
    shared = [(code[:, None] == code[None, :]).astype(np.float64) for code in groupings]
    starts = [np.full(len(shared), one) for one in (0.3, 1.0, 3.0)]
    if near is not None:
        # The slope is nil at 0: there the climb would not begin.
        starts = [np.maximum(np.sqrt(near), 0.2), starts[1]]
    roots = _climb(Profile.of(start / math.sqrt(size), design, groupings), starts)
    ratios = roots**2
    state = _state(scaled, design, shared, ratios)
    variances = size * state.residual * np.concatenate([ratios, [1.0]])
    information = np.zeros((len(shared) + 1,) * 2)
    blocks = [state.projection @ one for one in shared] + [state.projection]
    for i, a in enumerate(blocks):
        for j in range(i + 1):
            information[i, j] = information[j, i] = 0.5 * float((a * blocks[j].T).sum())
    information /= (size * state.residual) ** 2
    kept = np.flatnonzero(variances > 0.0)
    covariance = np.zeros_like(information)
    covariance[np.ix_(kept, kept)] = np.linalg.inv(information[np.ix_(kept, kept)])
    errors = np.sqrt(np.diag(np.linalg.inv(information)))
    return RemlFit(
        variances=variances,
        covariance=covariance,
        errors=errors,
        effects=math.sqrt(size) * state.effects,
        effects_covariance=size * state.residual * state.effects_inverse,
        log_likelihood=state.log_likelihood - 0.5 * dof * math.log(size),
    )


def reml_nested(
    values: ArrayLike,
    levels: Mapping[str, Sequence[Hashable]],
    *,
    residual: str = "repeat",
    p: float = 0.95,
) -> Components:
    """Components of variance of nested data of any numbers, by restricted maximum likelihood.

    Parameters and errors as in `nested_anova`; equal to it for balanced data whose estimates are
    positive.

    Notes
    -----
    ``dof`` = 2 (variance / its standard error)^2; intervals are chi-square ones with these degrees
    of freedom, which is rough below about 5, and one-sided (from 0) for a component of 0.
    """
    y = np.asarray(values, dtype=np.float64)
    codes = nested_codes(y, levels)
    if any(len(np.unique(code)) in (1, len(y)) for code in codes):
        raise RefusedInput(
            "a level of a single group, or with a group for every value, came: its scatter cannot"
            " be told from that of another level",
            hint="leave that level out",
        )
    fit = reml_fit(y, np.ones((len(y), 1)), codes)
    names = [*levels, residual]
    components = []
    for i, name in enumerate(names):
        variance = float(fit.variances[i])
        error = math.sqrt(float(fit.covariance[i, i])) if variance else float(fit.errors[i])
        components.append(reml_component(name, variance, error, p=p))
    total = float(fit.variances.sum())
    mean_variance = float(fit.effects_covariance[0, 0])
    return Components(
        components=tuple(components),
        total=reml_component("total", total, math.sqrt(float(fit.covariance.sum())), p=p),
        table=(),
        mean=float(fit.effects[0]),
        mean_u=math.sqrt(mean_variance),
        mean_dof=_mean_dof(codes, fit),
        p=p,
        method=Method.REML,
        balanced=all(len(set(np.bincount(code))) == 1 for code in codes),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _State:
    log_likelihood: float
    residual: float
    projection: Floats
    effects: Floats
    effects_inverse: Floats


def _state(y: Floats, design: Floats, shared: Sequence[Floats], ratios: Floats) -> _State:
    n, q = design.shape
    matrix = np.eye(n) + sum(
        (ratio * one for ratio, one in zip(ratios, shared, strict=True)), np.zeros((n, n))
    )
    lower = np.linalg.cholesky(matrix)
    inverse = np.linalg.inv(matrix)
    normal = design.T @ inverse @ design
    effects_inverse = np.asarray(np.linalg.inv(normal), dtype=np.float64)
    projection = inverse - inverse @ design @ effects_inverse @ design.T @ inverse
    pulled = projection @ y
    dof = n - q
    residual = float(y @ pulled) / dof
    value = -0.5 * dof * math.log(residual) - float(np.log(np.diag(lower)).sum())
    value -= 0.5 * float(np.linalg.slogdet(normal)[1])
    effects = np.asarray(effects_inverse @ (design.T @ (inverse @ y)), dtype=np.float64)
    return _State(value, residual, projection, effects, effects_inverse)


def _climb(profile: Profile, starts: Sequence[Floats]) -> Floats:
    """Square roots of the variance ratios of greatest likelihood."""
    # Imported here: nothing else on the way to a stress needs an optimiser.
    from scipy.optimize import minimize

    def fall(roots: Floats) -> tuple[float, Floats]:
        value, slopes = profile.at(roots**2)
        return -value, -2.0 * roots * slopes

    best = None
    for start in starts:
        found = minimize(
            fall,
            np.minimum(start, 5e3),
            jac=True,
            method="L-BFGS-B",
            bounds=[(0.0, 1e4)] * len(start),
            options={"ftol": 1e-15, "gtol": 1e-9, "maxiter": 500},
        )
        if best is None or found.fun < best.fun:
            best = found
    roots = np.asarray(best.x, dtype=np.float64) if best is not None else np.zeros(len(starts[0]))
    if (roots >= 1e4).any():
        raise RefusedInput("the innermost scatter is nil beside the others: leave that level out")
    # A root that only crept towards 0 is 0 where the likelihood falls from there on.
    for i in np.flatnonzero(roots < 1e-3):
        at_zero = roots.copy()
        at_zero[i] = 0.0
        if profile.at(at_zero**2)[1][i] <= 0.0:
            roots = at_zero
    return roots


def reml_component(name: str, variance: float, error: float, *, p: float) -> Component:
    """Component with its chi-square interval; of 0, from 0 to where chance would hardly hide it."""
    from scipy.special import chdtri, ndtri

    if not variance > 0.0:
        return Component(name, 0.0, 0.0, 0.0, float(ndtri(p)) * error, 0.0)
    dof = 2.0 * (variance / error) ** 2
    low = dof * variance / float(chdtri(dof, 0.5 * (1.0 - p)))
    least = float(chdtri(dof, 0.5 * (1.0 + p)))
    high = dof * variance / least if least > 0.0 else math.inf
    return Component(name, variance, variance, low, high, dof)


def _mean_dof(codes: Sequence[Labels], fit: RemlFit) -> float:
    """Degrees of freedom of the mean's variance, to first order in the components."""
    n = len(codes[0])
    spread = np.array([float((np.bincount(c) ** 2).sum()) / n**2 for c in codes] + [1.0 / n])
    variance = float(spread @ fit.variances)
    return 2.0 * variance**2 / float(spread @ fit.covariance @ spread)


def _check_design(y: Floats, design: Floats) -> None:
    """Refuse a design whose columns cannot be told apart."""
    if design.ndim != 2 or len(design) != len(y):
        raise UsageError(f"a design of shape {design.shape} came for {len(y)} values")
    if np.linalg.matrix_rank(design) < design.shape[1]:
        raise RefusedInput("two fixed effects cannot be told apart with these data")
