"""A step in a trace: height between two levels that share one line, under correlated residuals.

The height is that of plain least squares, as standards ask.  Its uncertainty is not: correlated
points are fewer looks at the step than they seem, and film and substrate may be rough unlike.
Means over stretches of the trace are judged under white plus exponentially correlated noise of
every length and mixture, the white part with a strength of its own on either level.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.averaging import Setting, average_fits
from filmstress.stats.noise_family import NoiseFamily, noise_family
from filmstress.stats.reml import fit_family

Floats = NDArray[np.float64]

# The window of a type A1 step is three widths: nine parts of a third of a width, six blocks each.
BLOCKS = 54
_MIN_BLOCK_DOF = 3
_LEAST_ON_A_LEVEL = 3
# Roughness is looked at on pieces this many times shorter than the blocks.
_FINER = 4
# Efficiency of a variance by successive differences (von Neumann, Ann. Math. Stat. 12 (1941) 367,
# doi 10.1214/aoms/1177731677).
_OF_DIFFERENCES = 2.0 / 3.0
_MOST_UNLIKE = 1e4
_HEIGHT_ROW = 0


@dataclass(frozen=True, slots=True, eq=False)
class Levels:
    """Two levels that share one line, fitted by least squares.

    Attributes
    ----------
    height : float
        Upper less lower level, as ``upper`` says which is which; signed [y].
    centre : float
        Where the line is counted from [x].
    level, tilt, curvature : float
        Of the line or parabola halfway between both levels, at the centre [y, y/x, y/x^2].
    residual_rms : float
        [y].
    points : int
    """

    height: float
    centre: float
    level: float
    tilt: float
    curvature: float
    residual_rms: float
    points: int

    def line(self, x: Floats) -> Floats:
        """Height halfway between both levels at ``x`` [y]."""
        d = x - self.centre
        height: Floats = self.level + d * (self.tilt + (0.5 * self.curvature) * d)
        return height


@dataclass(frozen=True, slots=True, eq=False)
class StepFit(Levels):
    """The same with the height's standard uncertainty by the residuals, and its dof."""

    u: float
    dof: float


def fit_levels(
    x: Floats, y: Floats, upper: NDArray[np.bool_], *, window: tuple[float, float], bow: bool
) -> Levels:
    """The levels alone, as `fit_step` finds them, without an uncertainty."""
    return _fitted(x, y, upper, window, bow=bow).levels


def fit_step(
    x: Floats,
    y: Floats,
    upper: NDArray[np.bool_],
    *,
    window: tuple[float, float],
    bow: bool,
    setting: Setting | str = Setting.BALANCED,
) -> StepFit:
    """Fit y = level + tilt x (+ bow) ± height / 2 by least squares.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        The points of the parts to use, in order [x, y].
    upper : ndarray of bool, shape (n,)
        Which of them lie on the level that counts as the upper one.
    window : (float, float)
        Stretch that the parts lie in [x]; it is cut into equal blocks.
    bow : bool
        Whether both levels share a parabola; else a straight line.
    setting : Setting or str
        Of the noise model.

    Raises
    ------
    RefusedInput
        Too few points.
    UsageError
        Shapes that differ.

    Notes
    -----
    With ``bow`` false this is the step of ISO 5436-1, Z = alpha X + beta + h delta with
    delta = ±1 and a depth of 2 h; without it a bow of the surface is taken for height.
    """
    found = _fitted(x, y, upper, window, bow=bow)
    u, dof = _uncertainty(found.t, found.rows, found.rest, upper, Setting(setting))
    levels = found.levels
    return StepFit(**{one.name: getattr(levels, one.name) for one in fields(levels)}, u=u, dof=dof)


@dataclass(frozen=True, slots=True, eq=False)
class _Fitted:
    """The levels, and what they leave: positions from -1 to 1, regressors, residuals."""

    levels: Levels
    t: Floats
    rows: Floats
    rest: Floats


def _fitted(
    x: Floats, y: Floats, upper: NDArray[np.bool_], window: tuple[float, float], *, bow: bool
) -> _Fitted:
    x, y = np.asarray(x, np.float64), np.asarray(y, np.float64)
    if x.ndim != 1 or x.shape != y.shape or x.shape != upper.shape:
        raise UsageError("x, y and upper must be vectors of one length")
    low, high = window
    centre, half = 0.5 * (low + high), 0.5 * (high - low)
    t = (x - centre) / half
    powers = 3 if bow else 2
    above, below = np.count_nonzero(upper), np.count_nonzero(~upper)
    if min(above, below) < _LEAST_ON_A_LEVEL or x.size < powers + 1 + _MIN_BLOCK_DOF:
        raise RefusedInput(
            f"{above} and {below} points on the two levels cannot carry a step",
            hint="scan with a finer interval, or a wider step",
        )
    rows = np.stack([np.where(upper, 0.5, -0.5), *(t**power for power in range(powers))])
    reference = float(y[0])
    coefficients = np.zeros(len(rows))
    rest = y - reference
    for _ in range(2):  # the second round fits what rounding left of the first
        change = np.linalg.lstsq(rows.T, rest, rcond=None)[0]
        coefficients = coefficients + change
        rest = rest - change @ rows
    levels = Levels(
        height=float(coefficients[_HEIGHT_ROW]),
        centre=centre,
        level=reference + float(coefficients[1]),
        tilt=float(coefficients[2]) / half,
        curvature=2.0 * float(coefficients[3]) / half**2 if bow else 0.0,
        residual_rms=float(np.sqrt(np.mean(rest**2))),
        points=x.size,
    )
    return _Fitted(levels, t, rows, rest)


def _uncertainty(
    t: Floats, rows: Floats, rest: Floats, upper: NDArray[np.bool_], setting: Setting
) -> tuple[float, float]:
    """Standard uncertainty of the height and its degrees of freedom."""
    place = np.clip(((t + 1.0) * (0.5 * BLOCKS)).astype(np.intp), 0, BLOCKS - 1)
    index, block = np.unique(place, return_inverse=True)
    p, m = len(rows), index.size
    if m - p < _MIN_BLOCK_DOF:
        raise RefusedInput(
            f"the points left fill {m} of {BLOCKS} equal parts of the window; "
            f"at least {p + _MIN_BLOCK_DOF} are needed",
            hint="scan with a finer interval, or a wider step",
        )
    count = np.bincount(block, minlength=m).astype(np.float64)
    means = np.stack([np.bincount(block, row, minlength=m) for row in (*rows, rest)]) / count
    regressors, residual = means[:-1], means[-1]
    scale = float(np.abs(residual).max())
    if scale == 0.0:
        return 0.0, float(m - p)
    rough, known = _roughness(t, rest, upper)
    # A block of the rougher level counts as one of fewer points.
    share = np.bincount(block, upper, minlength=m) / count
    variance = rough[0] * (1.0 - share) + rough[1] * share
    weight = count / variance
    family = noise_family(BLOCKS, index, weight)
    fits = fit_family(family, regressors, (residual / scale)[:, None])
    plain = np.linalg.solve((regressors * count) @ regressors.T, regressors * count)
    covariance = np.einsum("pm,kmn,qn->kpq", plain, _covariances(family, index, weight), plain)
    # One estimate whatever the noise: that of plain least squares, with what it is worth there.
    fits = replace(fits, coefficients=np.zeros_like(fits.coefficients), inverse_normal=covariance)
    found = average_fits(family, fits, setting=setting, of=_HEIGHT_ROW)
    # How rough each level is, is known from its own points only.
    pull = plain[_HEIGHT_ROW] ** 2 / weight
    parts = np.array([float(pull @ (1.0 - share)), float(pull @ share)])
    parts /= parts.sum()
    lost = 1.0 / float(found.dof[0]) + float(np.sum(parts**2 / known))
    return scale * float(np.sqrt(found.variance[0])), 1.0 / lost


def _roughness(
    t: Floats, rest: Floats, upper: NDArray[np.bool_]
) -> tuple[tuple[float, float], Floats]:
    """Relative variances of the fine structure on the lower and upper level; what they are worth.

    By differences of neighbouring means, in which slow drift hardly shows.
    """
    place = ((t + 1.0) * (0.5 * BLOCKS * _FINER)).astype(np.intp)
    index, piece = np.unique(place, return_inverse=True)
    count = np.bincount(piece)
    mean = np.bincount(piece, rest) / count
    above = np.bincount(piece, upper) / count > 0.5
    # Full pieces only: a mean over half the points is twice as uncertain.
    full = count >= 0.75 * np.median(count)
    beside = (np.diff(index) == 1) & full[1:] & full[:-1]
    if np.median(np.diff(index)) > 1:  # fewer points than pieces
        beside = np.diff(index) < 3 * _FINER
    step = np.diff(mean) ** 2
    found, known = [], []
    for level in (False, True):
        inside = beside & (above[1:] == level) & (above[:-1] == level)
        known.append(max(_OF_DIFFERENCES * float(np.count_nonzero(inside)), 1.0))
        found.append(float(step[inside].mean()) if inside.any() else 0.0)
    largest = max(found)
    if largest == 0.0:
        return (1.0, 1.0), np.array(known)
    low, high = (max(one / largest, 1.0 / _MOST_UNLIKE) for one in found)
    return (low, high), np.array(known)


def _covariances(family: NoiseFamily, index: NDArray[np.intp], weight: Floats) -> Floats:
    """Covariance matrix of the block means under every member, shape (K, m, m)."""
    r = 1.0 / (BLOCKS * family.length)
    lost = -np.expm1(-r)
    apart = np.abs(index[:, None] - index)
    between = np.exp(-r[:, None, None] * np.maximum(apart - 1, 0))
    slow: Floats = (lost / r)[:, None, None] ** 2 * between
    slow[:, apart == 0] = family.block_variance[:, None]
    slow *= ((1.0 - family.white_share) / family.block_variance)[:, None, None]
    white = weight.mean() / weight
    slow[:, np.arange(index.size), np.arange(index.size)] += family.white_share[:, None] * white
    return slow
