"""Traces over steps for the tests: a groove or one edge, and noise to lay on them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter
from scipy.stats import t as student

from filmstress.stats.coverage import whole_dof
from filmstress.stats.step_fit import StepFit, fit_step

Floats = NDArray[np.float64]

# No point of the parts lies on the border of a block, or of a piece of one.
POINTS = 1502
WINDOW = (-1.5, 1.5)
X = np.linspace(*WINDOW, 2 * POINTS + 1)[1::2]
GROOVE = "groove", (np.abs(X) <= 1 / 6) | (np.abs(X) >= 5 / 6), np.abs(X) > 0.5
EDGE = "edge", np.abs(X) >= 0.5, X > 0.0
NOISES = ("white", "correlated over 1 %", "rough film", "rough substrate")


@dataclass(frozen=True)
class Case:
    """One kind of step under one kind of noise, levelled one way."""

    step: str
    noise: str
    bow: bool


CASES = [Case(*one) for one in product(("groove", "edge"), NOISES, (True, False))]


def correlated(rng: np.random.Generator, length: float, size: int = POINTS) -> Floats:
    """Noise of unit variance, correlated over a length in points (first-order autoregression)."""
    kept = np.exp(-1.0 / length)
    drawn = rng.standard_normal(size) * np.sqrt(1.0 - kept**2)
    drawn[0] /= np.sqrt(1.0 - kept**2)
    return np.asarray(lfilter([1.0], [1.0, -kept], drawn))


def noise(kind: str, rng: np.random.Generator, upper: NDArray[np.bool_]) -> Floats:
    """Noise of one of :data:`NOISES`; the roughness is six times that of the other level."""
    if kind == "white":
        return rng.standard_normal(POINTS)
    if kind == "correlated over 1 %":
        return correlated(rng, 0.01 * POINTS)
    rough = upper if kind == "rough film" else ~upper
    return correlated(rng, 0.002 * POINTS) * np.where(rough, 6.0, 1.0)


def fitted(case: Case, rng: np.random.Generator) -> StepFit:
    """The fit to noise alone: the true height is 0."""
    _, use, upper = GROOVE if case.step == "groove" else EDGE
    z = noise(case.noise, rng, upper)
    return fit_step(X[use], z[use], upper[use], window=WINDOW, bow=case.bow)


def holds(fit: StepFit) -> bool:
    """Whether the 95 % interval holds the truth."""
    k = float(student.ppf(0.975, whole_dof(fit.dof)))
    return abs(fit.height) <= k * fit.u
