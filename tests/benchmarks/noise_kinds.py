"""Kinds of noise along a trace: how to draw them, and the best any fit could do."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_toeplitz

Floats = NDArray[np.float64]

POINTS = 2000


@dataclass(frozen=True)
class Part:
    """A share of the variance: "white", "ou" or "smooth" of a length, or "power" of an exponent."""

    kind: str
    value: float = 0.0
    share: float = 1.0


def _mixture(*parts: tuple[str, float, float]) -> tuple[Part, ...]:
    total = sum(weight for _, _, weight in parts)
    return tuple(Part(kind, value, weight / total) for kind, value, weight in parts)


# Lengths are parts of the trace; "1:1" is a ratio of variances, white first.
KINDS: dict[str, tuple[Part, ...]] = {
    "white": _mixture(("white", 0, 1)),
    "OU 0.1 %": _mixture(("ou", 0.001, 1)),
    "OU 0.3 %": _mixture(("ou", 0.003, 1)),
    "OU 1 %": _mixture(("ou", 0.01, 1)),
    "OU 3 %": _mixture(("ou", 0.03, 1)),
    "OU 10 %": _mixture(("ou", 0.1, 1)),
    "white + OU 1 %, 1:1": _mixture(("white", 0, 1), ("ou", 0.01, 1)),
    "white + OU 3 %, 10:1": _mixture(("white", 0, 10), ("ou", 0.03, 1)),
    "white + OU 10 %, 1:1": _mixture(("white", 0, 1), ("ou", 0.1, 1)),
    # A thousandth of white: perfectly smooth noise would let a perfect model see through it.
    "smooth 1 %": _mixture(("smooth", 0.01, 1), ("white", 0, 0.001)),
    "white + OU 10 %, 100:1": _mixture(("white", 0, 100), ("ou", 0.1, 1)),
    "OU 30 %": _mixture(("ou", 0.3, 1)),
    "white + OU 30 %, 1:1": _mixture(("white", 0, 1), ("ou", 0.3, 1)),
    "OU 0.3 % + OU 20 %, 1:1": _mixture(("ou", 0.003, 1), ("ou", 0.2, 1)),
    "1/f": _mixture(("power", 1.0, 1)),
    "white + 1/f, 1:1": _mixture(("white", 0, 1), ("power", 1.0, 1)),
    "1/f^1.5": _mixture(("power", 1.5, 1)),
    "OU 100 %": _mixture(("ou", 1.0, 1)),
    "random walk (OU 1000 %)": _mixture(("ou", 10.0, 1)),
    "white + OU 30 %, 30:1": _mixture(("white", 0, 30), ("ou", 0.3, 1)),
    "white + OU 100 %, 10:1": _mixture(("white", 0, 10), ("ou", 1.0, 1)),
    "smooth 10 %": _mixture(("smooth", 0.1, 1), ("white", 0, 0.001)),
}
# Correlated over a tenth of the trace at most, and not hidden under a hundred times as much white.
SHORT = tuple(KINDS)[:10]
HIDDEN = "white + OU 10 %, 100:1"
# Drift that a trace can just bear, and drift that is a walk as far as the trace can tell.
DRIFT = tuple(KINDS)[11:17]
WALK = tuple(KINDS)[17:19]
# Drift too faint to see in white noise and large enough to matter, and noise as smooth as shape:
# what one trace cannot see, no rule can put right.
BLIND = tuple(KINDS)[19:]
# The lowest frequency of the power laws: one cycle in this many traces.
_OCTAVES = 16


def covariance_row(kind: str) -> Floats:
    """Covariance of a point with each later one; unit variance, unit trace length."""
    lag = np.arange(POINTS) / (POINTS - 1)
    row = np.zeros(POINTS)
    for part in KINDS[kind]:
        row += part.share * _row(part, lag)
    return row


def _row(part: Part, lag: Floats) -> Floats:
    if part.kind == "white":
        return (lag == 0.0).astype(np.float64)
    if part.kind == "ou":
        return np.exp(-lag / part.value)
    if part.kind == "smooth":
        return np.exp(-0.5 * (lag / part.value) ** 2)
    size = _OCTAVES * POINTS
    spectrum = np.zeros(size // 2 + 1)
    spectrum[1:] = np.arange(1.0, size // 2 + 1) ** -part.value
    row = np.fft.irfft(spectrum, size)[:POINTS]
    return row / row[0]


def draw(kind: str, traces: int, rng: np.random.Generator) -> Floats:
    """Draw unit-variance noise, shape (traces, POINTS)."""
    noise = np.zeros((traces, POINTS))
    for part in KINDS[kind]:
        noise += np.sqrt(part.share) * _draw_part(part, traces, rng)
    return noise


def _draw_part(part: Part, traces: int, rng: np.random.Generator) -> Floats:
    if part.kind == "white":
        return rng.standard_normal((traces, POINTS))
    if part.kind == "ou":
        noise = rng.standard_normal((POINTS, traces))
        keep = np.exp(-1.0 / (POINTS - 1) / part.value)
        fresh = np.sqrt(1.0 - keep**2)
        for k in range(1, POINTS):
            noise[k] = keep * noise[k - 1] + fresh * noise[k]
        return noise.T
    # A circle that is longer than the trace, with the spectrum of its covariance.
    size = (_OCTAVES if part.kind == "power" else 2) * POINTS
    if part.kind == "power":
        spectrum = np.zeros(size // 2 + 1)
        spectrum[1:] = np.arange(1.0, size // 2 + 1) ** -part.value
        spectrum *= size / (2.0 * spectrum[1:-1].sum() + spectrum[-1])
    else:
        lag = np.minimum(np.arange(size), size - np.arange(size)) / (POINTS - 1)
        spectrum = np.maximum(np.fft.rfft(_row(part, lag)).real, 0.0)
    amplitude = np.sqrt(spectrum / size)
    out = np.empty((traces, POINTS))
    for row in out:
        white = np.fft.rfft(rng.standard_normal(size))
        row[:] = np.fft.irfft(white * amplitude * np.sqrt(size), size)[:POINTS]
    return out


def best_sd(kind: str) -> float:
    """Standard deviation of the curvature fitted with the covariance known (Cramer-Rao)."""
    x = np.linspace(-0.5, 0.5, POINTS)
    regressors = np.stack([np.ones(POINTS), x, 0.5 * x * x], axis=1)
    solved = solve_toeplitz(covariance_row(kind), regressors)
    return float(np.sqrt(np.linalg.inv(regressors.T @ solved)[2, 2]))
