"""Film force per width from curvatures along one, two, three or more azimuths."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.physics.stoney import curvature_row

# Two azimuths closer than about 3 deg cannot tell a direction; below this share of the largest
# singular value a direction counts as unseen.
_UNSEEN = 0.05

# Columns: isotropic part, difference of the normal forces, shear.
_PARTS = np.array([[1.0, 1.0, 0.0], [1.0, -1.0, 0.0], [0.0, 0.0, 1.0]])
_PARTS.setflags(write=False)


def force_from_azimuths(reduced_pa: ArrayLike, azimuths_rad: ArrayLike) -> NDArray[np.float64]:
    """Matrix G [Pa] with N = (h_s^2 / 6) s G kappa: force per width from curvatures by azimuth.

    Least squares where three or more azimuths see all three components of the force.  What the
    azimuths cannot see is settled by the least departure from an equibiaxial force: one azimuth
    gives the equibiaxial force itself; 0 and 90 deg give both normal forces (of an isotropic or
    symmetric cut) and no shear.

    Parameters
    ----------
    reduced_pa : array_like, shape (3, 3)
        Plane-stress stiffness Q of the substrate in the axes of azimuth 0 [Pa].
    azimuths_rad : array_like, shape (n,)
        Azimuths of the curvatures [rad].

    Returns
    -------
    ndarray, shape (3, n)
        G; N = (N_xx, N_yy, N_xy).

    Notes
    -----
    From the tensor form N = (h_s^2/6) Q (kappa_xx, kappa_yy, 2 kappa_xy) (moment balance of a thin
    plate with edge moment N h_s/2; plain case: Stoney, Proc. R. Soc. A 82 (1909) 172,
    doi:10.1098/rspa.1909.0021).  The least departure is the limit of a ridge on the
    deviatoric part alone, solved by the null space of the design.
    """
    compliance = np.linalg.inv(np.asarray(reduced_pa, dtype=np.float64))
    rows = curvature_row(np.atleast_1d(np.asarray(azimuths_rad, dtype=np.float64)))
    # The scale of the stiffness is taken out so that singular values compare as pure numbers.
    stiffness_pa = 1.0 / compliance[0, 0]
    design = stiffness_pa * rows @ compliance @ _PARTS
    u, s, vt = np.linalg.svd(design, full_matrices=True)
    seen = int(np.sum(s > _UNSEEN * s[0]))
    inverse = vt[:seen].T @ np.diag(1.0 / s[:seen]) @ u[:, :seen].T
    unseen = vt[seen:].T
    if unseen.size:
        deviatoric = np.diag([0.0, 1.0, 1.0])
        inverse -= unseen @ np.linalg.pinv(deviatoric @ unseen) @ deviatoric @ inverse
    force: NDArray[np.float64] = stiffness_pa * _PARTS @ inverse
    return force


def normal_row(azimuth_rad: ArrayLike) -> NDArray[np.float64]:
    """Row(s) t with N_normal(azimuth) = t @ (N_xx, N_yy, N_xy); shape (..., 3)."""
    c, s = np.cos(azimuth_rad), np.sin(azimuth_rad)
    return np.stack([c * c, s * s, 2.0 * s * c], axis=-1)
