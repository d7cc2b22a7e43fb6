"""Stress along a diametral scan that may end short of the rim, on a film that varies.

The wafer's curvature at a place answers to the film there *and* to its mean over the wafer
(`filmstress.physics.nonuniform`).  Here every force is told as the curvature kappa that a film of
that force all over the covered area would make; c is where the scan ends, R the rim, r_f the
film's edge, a = (1 - nu)/(1 + nu), Sigma = z'' + z'/r.

Let the film between c and r_f pull, in the mean, by delta more than the mean within c, and put
f = (c/R)^2, g = (r_f/R)^2.  The mean of Sigma within c is 2 z'(c)/c whatever the film does.  Then

    kappa(r)       = (1 + a g)/2 Sigma(r) - a g z'(c)/c - a (g - f)/(1 + a g) delta
    mean of kappa  = z'(c)/c + (g - f)/[g (1 + a g)] delta

over the covered area.  Derivation: D Sigma = m + a mean m at every r, with mean m =
g m_in + (g - f) delta for the disc within c; a film of one force makes
`nonuniform.ring_factor` = (1 + a g)/(1 + a) of what it would make without the ring.  With delta = 0
the second is the rim's theorem at r = c.  What is not seen is taken to stay as it is at the scan's
end, delta = kappa(c) - mean kappa within c = (1 + a g) [Sigma(c)/2 - z'(c)/c], within a bound.

A film that does not vary with the radius alone has an odd part.  One that grows evenly across the
wafer, N = G x, makes z'' = 3 G x/[(3 + nu) D] times h_s/2 along x (r^3 cos(theta) is the one
solution regular at the centre and free at the rim), so kappa = z'' (3 + nu)/[3 (1 + nu)].

References
----------
X. Feng, Y. Huang, H. Jiang, D. Ngo and A. J. Rosakis, J. Mech. Mater. Struct. 1 (2006) 1041 (film
of another radius than the substrate's); the unseen ring and the odd part: derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.errors import SubstrateError
from filmstress.physics.elasticity import rotate_reduced

Floats = NDArray[np.float64]

# With these, a film that goes as the second or the fourth power of the radius stays within the
# bound, whatever its size: the mean of its unseen ring is off the value at the scan's end by less
# than BEYOND times as much as the seen place that departs most is off the mean of the seen disc.
LEAST_REACH = 0.75
BEYOND = 1.5

_AZIMUTHS = np.linspace(0.0, np.pi, 36, endpoint=False)


@dataclass(frozen=True, slots=True)
class PartialScan:
    """A scan to both sides of the centre, and the film and wafer around it.

    Attributes
    ----------
    poisson_ratio : float
        Of the substrate; of its isotropic equivalent on a crystal [1].
    scan_share, film_share : float
        f = (c/R)^2 and g = (r_f/R)^2 [1].

    Raises
    ------
    SubstrateError
        If the scan's end lies beyond the film's edge, or that beyond the rim.
    """

    poisson_ratio: float
    scan_share: float
    film_share: float = 1.0

    def __post_init__(self) -> None:
        # A hundredth of a micrometre on a wafer is rounding.
        if not 0.0 < self.scan_share <= self.film_share * (1.0 + 1e-6) <= 1.0 + 2e-6:
            raise SubstrateError(
                f"the scan ends at {self.scan_share**0.5:.4g} of the wafer's radius, its film at "
                f"{self.film_share**0.5:.4g}",
                hint="check the diameter, the uncoated ring and the origin of the scan",
            )

    @property
    def _ratio(self) -> float:
        return (1.0 - self.poisson_ratio) / (1.0 + self.poisson_ratio)

    @property
    def _stiffer(self) -> float:
        return 1.0 + self._ratio * self.film_share

    def local_row(self, place: ArrayLike) -> Floats:
        """Rows that turn powers into the curvature that stands for the film's force there [1].

        Parameters
        ----------
        place : array_like, shape (n,)
            x/c, -1 to 1 [1].

        Returns
        -------
        ndarray, shape (n, 7)
            To be multiplied with coefficients p_k of z = sum p_k (x/c)^k, and divided by c^2.
            Even powers by the axisymmetric relation, odd ones as a film that grows evenly.
        """
        at = np.asarray(place, dtype=np.float64)
        rows = np.zeros((at.size, 7))
        a, nu = self._ratio, self.poisson_ratio
        for k in (2, 4, 6):
            rows[:, k] = 0.5 * self._stiffer * k**2 * at ** (k - 2) - a * self.film_share * k
        rows -= self.local_beyond * self._end_row()
        for k in (3, 5):
            rows[:, k] = (3.0 + nu) / (3.0 + 3.0 * nu) * k * (k - 1) * at ** (k - 2)
        return rows

    def mean_row(self) -> Floats:
        """The row of the mean over the film's area, shape (7,); see `local_row`."""
        row = np.zeros(7)
        row[[2, 4, 6]] = 2.0, 4.0, 6.0
        return row + self.mean_beyond * self._end_row()

    def _end_row(self) -> Floats:
        """Of delta, taken as the value at the scan's end less the mean within."""
        row = np.zeros(7)
        row[[2, 4, 6]] = [0.5 * self._stiffer * (k**2 - 2 * k) for k in (2, 4, 6)]
        return row

    @property
    def local_beyond(self) -> float:
        """What 1 more beyond the scan takes off every local value [1], a positive number."""
        return self._ratio * (self.film_share - self.scan_share) / self._stiffer

    @property
    def mean_beyond(self) -> float:
        """What 1 more beyond the scan adds to the mean over the film's area [1]."""
        return (self.film_share - self.scan_share) / (self.film_share * self._stiffer)

    @property
    def odd_doubt(self) -> float:
        """Half-width of what an odd part may be read wrong by, as a share of itself [1].

        A film that varies along the scan alone has kappa = z''/(1 + nu); the plain local equation
        is kappa = z''.  The even growth lies between, and this is half of what lies between them.
        """
        return 0.5 * self.poisson_ratio / (1.0 + self.poisson_ratio)


def plain_row(place: ArrayLike) -> Floats:
    """Rows of the plain local equation, kappa = z'': as `PartialScan.local_row`, shape (n, 7)."""
    at = np.asarray(place, dtype=np.float64)
    rows = np.zeros((at.size, 7))
    for k in range(2, 7):
        rows[:, k] = k * (k - 1) * at ** (k - 2)
    return rows


def plain_local_bound(*, curvature_range_per_m: float, poisson_ratio: float) -> float:
    """How far kappa = z''(x) may be from the curvature that stands for the film there [1/m].

    Range of the curvature over (1 + nu), for a film that varies with the radius alone, or along the
    scan alone, and a curvature that stays within that range beyond the scan.

    Notes
    -----
    The axisymmetric relation less z'' is [(1 + a) z'/r - (1 - a) z'' - 2 a z'(R)/R]/2, and both
    slopes over the radius are means of z'': with z'' between k and k + range the largest value is
    (1 + a)/2 of the range, and (1 + a)/2 = 1/(1 + nu).  Where the film varies along the scan alone,
    its departure from the mean is that of z'' over 1 + nu: off by nu/(1 + nu) of the range at most.
    """
    return curvature_range_per_m / (1.0 + poisson_ratio)


def anisotropy(reduced_pa: ArrayLike) -> float:
    """How far a cut's bending is from isotropic: (max - min)/(max + min) of Q11 over azimuths [1].

    0 for glass and Si(111), 0.09 for Si(001), 0.15 for Si(110).  The axisymmetric relation with the
    isotropic equivalent is off by less than this share of the range of the film's departure
    (checked by finite elements on Si(001) and Si(110)).
    """
    q11 = [rotate_reduced(reduced_pa, float(azimuth))[0, 0] for azimuth in _AZIMUTHS]
    return float((max(q11) - min(q11)) / (max(q11) + min(q11)))
