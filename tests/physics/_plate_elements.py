"""Finite elements of a round anisotropic plate: Kirchhoff's, and von Karman's at large deflection.

Displacements only and no symmetry assumed: C1 elements of fifth order (Argyris) for the height,
third order for the in-plane displacements.  Reduced units: lengths in the radius R, heights in the
thickness h, stiffness in the mean biaxial modulus M, energy in M h^5/R^2.  Then the curvature of K
is 4 K, a film of reduced force S adds the moment S/3, and a weight q the load q R^4/(M h^4).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import bmat, coo_matrix
from scipy.sparse.linalg import splu
from skfem import Basis, ElementTriArgyris, ElementTriP3, ElementVector, MeshTri

Floats = NDArray[np.float64]

# Integrates bending exactly; the energy of stretching to far below the error of the mesh.
_ORDER = 10


@dataclass
class ElementPlate:
    """A plate of radius 1 on a mesh with ``4 * 2**refinements`` edges around.

    The polygon has the area of the circle; a rim support is put on the circle itself.
    """

    reduced: Floats  # Q in any unit
    refinements: int = 2
    bare: float = 0.0  # K of a stress-free spherical bow
    load: float = 0.0  # q R^4/(M h^4)
    support: str = "free"  # or rim, centre, three-points
    support_radius: float = 0.7  # of the three points
    support_azimuth: float = 0.0  # of one of them

    def __post_init__(self) -> None:
        q = np.asarray(self.reduced, dtype=float)
        u1 = (3.0 * (q[0, 0] + q[1, 1]) + 2.0 * q[0, 1] + 4.0 * q[2, 2]) / 8.0
        u4 = (q[0, 0] + q[1, 1] + 6.0 * q[0, 1] - 4.0 * q[2, 2]) / 8.0
        self.q = q / (u1 + u4)
        edges = 4 * 2**self.refinements
        area = 0.5 * edges * math.sin(2.0 * math.pi / edges)
        self.mesh = MeshTri.init_circle(self.refinements).scaled(math.sqrt(math.pi / area))
        self.heights = Basis(self.mesh, ElementTriArgyris(), intorder=_ORDER)
        self.in_plane = Basis(self.mesh, ElementVector(ElementTriP3()), intorder=_ORDER)
        self.area = self.heights.dx
        # Shape functions by (element, point, ..., function).
        w = [part[0] for part in self.heights.basis]
        self.value = np.stack([np.asarray(f) for f in w], axis=-1)
        self.slope = np.stack([np.asarray(f.grad) for f in w], axis=-1)
        hess = np.stack([np.asarray(f.hess) for f in w], axis=-1)
        self.curve = np.stack([hess[0, 0], hess[1, 1], 2.0 * hess[0, 1]], axis=2)
        g = np.stack([np.asarray(part[0].grad) for part in self.in_plane.basis], axis=-1)
        self.strain = np.stack([g[0, 0], g[1, 1], g[0, 1] + g[1, 0]], axis=2)
        self.size = self.heights.N + self.in_plane.N
        self.dofs = np.vstack(
            [self.heights.element_dofs, self.heights.N + self.in_plane.element_dofs]
        ).T
        self.bare_slope = 4.0 * self.bare * np.asarray(self.heights.global_coordinates())
        self.held = self._held()
        self.rows: dict[tuple[float, float, float], Floats] = {}

    def _held(self) -> coo_matrix:
        """Rows of what is kept at zero: the support, and the rigid motion that it leaves."""
        centre = int(np.argmin(np.hypot(*self.mesh.p)))
        east = int(np.argmax(self.mesh.p[0]))
        nodal, n = self.heights.nodal_dofs, self.heights.N
        plane = self.in_plane.nodal_dofs
        rows = [{n + plane[0, centre]: 1.0}, {n + plane[1, centre]: 1.0}]
        rows += [{n + plane[1, east]: 1.0}]
        if self.support in ("free", "centre"):
            rows += [{nodal[i, centre]: 1.0} for i in range(3)]
        elif self.support == "rim":
            for node in np.unique(self.mesh.facets[:, self.mesh.boundary_facets()]):
                # Taylor's series from the corner to the circle: u, u_x, u_y, u_xx, u_xy, u_yy.
                x, y = self.mesh.p[:, node] * (1.0 / math.hypot(*self.mesh.p[:, node]) - 1.0)
                series = (1.0, x, y, 0.5 * x * x, x * y, 0.5 * y * y)
                rows.append(dict(zip(nodal[:, node], series, strict=True)))
        else:
            angles = self.support_azimuth + 2.0 * math.pi * np.arange(3) / 3.0
            circle = np.stack([np.cos(angles), np.sin(angles)])
            points = coo_matrix(self.heights.probes(self.support_radius * circle)).tocsr()
            rows += [dict(zip(row.indices, row.data, strict=True)) for row in points]
        entries = [(i, j, v) for i, row in enumerate(rows) for j, v in row.items()]
        i, j, v = zip(*entries, strict=True)
        return coo_matrix((v, (i, j)), shape=(len(rows), self.size))

    def solve(self, force: float, start: Floats | None = None, *, linear: bool = False) -> Floats:
        """Displacements under a film of reduced force S and the weight, from a state nearby."""
        state = np.zeros(self.size) if start is None else start.copy()
        for _ in range(25):
            residual, tangent = self._imbalance(state, force, linear=linear)
            system = bmat([[tangent, self.held.T], [self.held, None]]).tocsc()
            right = np.concatenate([residual, self.held @ state])
            step = splu(system).solve(right)[: self.size]
            state -= step
            if linear or np.max(np.abs(step)) < 1e-8 * max(1.0, np.max(np.abs(state))):
                return state
        raise ArithmeticError("no equilibrium found")

    def _imbalance(self, state: Floats, force: float, *, linear: bool) -> tuple[Floats, coo_matrix]:
        """Gradient of the energy and its derivative."""
        n = self.value.shape[-1]
        w, u = state[self.dofs][:, :n], state[self.dofs][:, n:]
        curvature = np.einsum("eqin,en->eqi", self.curve, w)
        curvature[..., :2] -= 4.0 * self.bare
        moment = curvature @ self.q / 12.0
        moment[..., :2] -= force / 3.0
        strain = np.einsum("eqin,en->eqi", self.strain, u)
        stretch = np.zeros((*self.area.shape, 3, self.dofs.shape[1]))
        stretch[..., n:] = self.strain
        gx, gy = self.slope
        if not linear:
            px, py = np.einsum("deqn,en->deq", self.slope, w)
            bx, by = self.bare_slope
            strain += np.stack(
                [0.5 * (px**2 - bx**2), 0.5 * (py**2 - by**2), px * py - bx * by], axis=-1
            )
            px, py = px[..., None], py[..., None]
            stretch[..., :n] = np.stack([px * gx, py * gy, px * gy + py * gx], axis=2)
        tension = strain @ self.q
        stretch_side = self._form(stretch, self.q, tension)
        curve_side = self._form(self.curve, self.q / 12.0, moment)
        gradient, tangent = stretch_side
        gradient[:, :n] += curve_side[0]
        gradient[:, :n] += self.load * np.einsum("eqn,eq->en", self.value, self.area)
        tangent[:, :n, :n] += curve_side[1]
        if not linear:
            txx, tyy, txy = np.moveaxis(tension * self.area[..., None], -1, 0)[..., None]
            tangent[:, :n, :n] += np.swapaxes(gx, 1, 2) @ (txx * gx + txy * gy)
            tangent[:, :n, :n] += np.swapaxes(gy, 1, 2) @ (txy * gx + tyy * gy)
        rows = np.repeat(self.dofs, self.dofs.shape[1], axis=1).ravel()
        columns = np.tile(self.dofs, (1, self.dofs.shape[1])).ravel()
        return (
            np.bincount(self.dofs.ravel(), gradient.ravel(), self.size),
            coo_matrix((tangent.ravel(), (rows, columns)), shape=(self.size, self.size)),
        )

    def _form(self, b: Floats, stiffness: Floats, stress: Floats) -> tuple[Floats, Floats]:
        """Integrals of b stress and of b stiffness b, element by element."""
        flat = (len(b), b.shape[1] * 3, -1)
        weighted = (stiffness @ b * self.area[..., None, None]).reshape(flat)
        turned = np.swapaxes(b.reshape(flat), 1, 2)
        loads = (stress * self.area[..., None]).reshape(len(b), -1, 1)
        return (turned @ loads)[..., 0], turned @ weighted

    def fitted(self, state: Floats, low: float, high: float, azimuth: float = 0.0) -> float:
        """K of the parabola fitted evenly over a part of a diameter."""
        row = self.rows.get((low, high, azimuth))
        if row is None:
            nodes, weights = np.polynomial.legendre.leggauss(24)
            middle, half = 0.5 * (low + high), 0.5 * (high - low)
            x = middle + half * nodes
            line = np.stack([x * math.cos(azimuth), x * math.sin(azimuth)])
            second = 7.5 * weights * (1.5 * nodes**2 - 0.5) / half**2
            row = second @ self.heights.probes(line) / 4.0
            self.rows[low, high, azimuth] = row
        return float(row @ state[: self.heights.N])
