"""Averages a fit over the members of a noise family: the estimate, its uncertainty, its dof."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from filmstress.stats.family import Family
from filmstress.stats.reml import FamilyFits

Floats = NDArray[np.float64]


class Setting(StrEnum):
    """How much slow drift is taken to be possible before looking at the residuals.

    SHARP gives the shortest 95 % intervals, which hold where the noise is correlated over less
    than a tenth of the trace and four times in five under drift; BALANCED holds 97 % there and
    above 90 % under drift that shows; SAFE 95 % under drift short of a walk, at intervals up to
    twice as long.
    """

    SHARP = "sharp"
    BALANCED = "balanced"
    SAFE = "safe"


# Prior weight of a correlation length l below the trace's length L is (l / L) ** power per step in
# ln l; from L on, where noise is a walk, it is flat and ``walk`` times as large.
_PRIOR = {
    Setting.SHARP: (-1.0, 1.0),
    Setting.BALANCED: (-0.75, 10.0),
    Setting.SAFE: (-0.25, 10.0),
}
# Correlation over more than this part of the trace looks like a parabola ...
LONG_MEMORY_LENGTH = 0.25
# ... and an uncertainty counts as established while its weight stays below this.
LONG_MEMORY_LIMIT = 1.0 / 3.0
_MIN_DOF = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class AveragedFits:
    """What S traces say after averaging over the family.

    Attributes
    ----------
    coefficients : ndarray, shape (p, S)
        Weighted means; the same for every setting.
    variance, dof : ndarray, shape (S,)
        Of the coefficient asked for, and the degrees of freedom of that variance.
    weight : ndarray, shape (K, S)
        Of each member, adding to 1.
    long_memory : ndarray, shape (S,)
        Weight of correlation beyond a quarter of the trace, the same for every setting [1].
    """

    coefficients: Floats
    variance: Floats
    dof: Floats
    weight: Floats
    long_memory: Floats

    @property
    def established(self) -> NDArray[np.bool_]:
        """Whether the trace itself rules out the slow drift that passes for a parabola."""
        return self.long_memory <= LONG_MEMORY_LIMIT


def average_fits(family: Family, fits: FamilyFits, *, setting: Setting, of: int) -> AveragedFits:
    """Average the fits by their restricted likelihood.

    Parameters
    ----------
    family, fits
        Members and the fit at each.
    setting : Setting
        Prior weight of slow drift.
    of : int
        Which coefficient the variance is wanted of.

    Notes
    -----
    The estimate uses the SHARP weights whatever the setting: they give the smallest spread.
    Its variance is the geometric mean over the members plus the spread between their estimates;
    the spread of ln(variance) over the members lowers the degrees of freedom,
    nu = 2 / var(ln V) after Satterthwaite (1946), doi 10.2307/3002019.
    """
    weight = _weights(family, fits, setting)
    sharp = _weights(family, fits, Setting.SHARP)
    coefficients = np.einsum("kps,ks->ps", fits.coefficients, sharp)
    log_variance = np.log(fits.scale * fits.inverse_normal[:, of, of][:, None])
    mean = (weight * log_variance).sum(axis=0)
    unsure = (weight * (log_variance - mean) ** 2).sum(axis=0)
    between = (weight * (fits.coefficients[:, of] - coefficients[of]) ** 2).sum(axis=0)
    slow = np.where(family.length > LONG_MEMORY_LENGTH, 1.0 - family.white_share, 0.0)
    return AveragedFits(
        coefficients=coefficients,
        variance=np.exp(mean) + between,
        dof=np.maximum(2.0 / (unsure + 2.0 / fits.dof), min(_MIN_DOF, fits.dof)),
        weight=weight,
        long_memory=slow @ sharp,
    )


def _weights(family: Family, fits: FamilyFits, setting: Setting) -> Floats:
    power, walk = _PRIOR[setting]
    length = family.length
    prior = power * np.log(np.minimum(length, 1.0)) + np.log(np.where(length < 1.0, 1.0, walk))
    exponent = fits.log_likelihood + prior[:, None]
    weight = np.exp(exponent - exponent.max(axis=0))
    normalised: Floats = weight / weight.sum(axis=0)
    return normalised
