"""A plain script: what an engineer writes in an hour, as the thing to be compared with.

``python plain_script.py PRE.csv POST.csv [PRE2.csv POST2.csv ...]``, columns x [um] and z [um]:
read, fit parabolas, lay one scan on the other by their correlation, subtract, clip, fit, Stoney.
Its uncertainty takes the residuals for independent.
"""

from __future__ import annotations

import sys

import numpy as np
from uncertainties import UFloat, ufloat

YOUNGS_GPA, POISSON = ufloat(130.2, 1.0), ufloat(0.279, 0.005)
SUBSTRATE_UM, FILM_UM = ufloat(675.0, 2.0), ufloat(0.5, 0.01)


def lag_um(x: np.ndarray, first: np.ndarray, second: np.ndarray) -> float:
    """Lag of the second scan behind the first, to a part of a step."""
    flat = [z - np.polyval(np.polyfit(x, z, 2), x) for z in (first, second)]
    size = 2 * x.size
    spectra = [np.fft.rfft(z, size) for z in flat]
    likeness = np.fft.irfft(spectra[1] * spectra[0].conj(), size)
    best = int(likeness.argmax())
    left, top, right = (likeness[(best + step) % size] for step in (-1, 0, 1))
    place = best + 0.5 * (left - right) / (left - 2.0 * top + right)
    if place > x.size:
        place -= size
    return float(place * (x[1] - x[0]))


def stress_mpa(pre: str, post: str) -> UFloat:
    """Film stress by Stoney's equation."""
    (x, first), (x_second, second) = (
        np.loadtxt(path, delimiter=",", skiprows=1, unpack=True) for path in (pre, post)
    )
    change = np.interp(x, x_second - lag_um(x, first, second), second) - first
    left = change - np.polyval(np.polyfit(x, change, 2), x)
    keep = abs(left) < 3.0 * left.std()
    fit, covariance = np.polyfit(x[keep], change[keep], 2, cov=True)
    curvature_per_um = 2.0 * ufloat(fit[0], covariance[0, 0] ** 0.5)
    biaxial_mpa = 1e3 * YOUNGS_GPA / (1.0 - POISSON)
    return biaxial_mpa * SUBSTRATE_UM**2 * curvature_per_um / (6.0 * FILM_UM)


if __name__ == "__main__":
    for pre, post in zip(sys.argv[1::2], sys.argv[2::2], strict=True):
        print(f"{stress_mpa(pre, post):.2u} MPa")
