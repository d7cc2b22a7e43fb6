"""Finite elements of a round anisotropic plate: Kirchhoff's and von Karman's.

Displacements only, and no axial symmetry: C1 elements of fifth order (Argyris) for the height,
third order for the in-plane displacements.  Reduced units: lengths in the radius R, heights in the
thickness h, stiffness in the mean biaxial modulus M, energy in M h^5/R^2.  Then the curvature of K
is 4 K, a film of reduced force S adds the moment S/3, and a weight q the load q R^4/(M h^4).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix, vstack
from scipy.sparse.linalg import splu
from skfem import Basis, ElementTriArgyris, ElementTriP3, ElementVector, MeshTri


@dataclass
class RoundPlate:
    """A plate of radius 1 on a mesh of ``4 * 2**refinements`` edges around.

    ``reduced`` is Q in any unit; the polygon has the area of the circle.
    """

    reduced: np.ndarray
    refinements: int = 3
    bare: float = 0.0  # K of a stress-free spherical bow
    load: float = 0.0  # q R^4/(M h^4)
    support: str = "free"  # free, rim, centre, three-points
    support_radius: float = 1.0
    support_azimuth: float = 0.0
    _prepared: dict = field(default_factory=dict)

    def __post_init__(self) -> None:
        q = np.asarray(self.reduced, dtype=float)
        mean = 0.25 * (q[0, 0] + q[1, 1] + 2.0 * q[0, 1]) * 2.0
        self.q = q / mean
        mesh = MeshTri.init_circle(self.refinements)
        edges = 4 * 2**self.refinements
        area = 0.5 * edges * np.sin(2.0 * np.pi / edges)
        mesh = mesh.scaled(np.sqrt(np.pi / area))
        order = 10
        self.heights = Basis(mesh, ElementTriArgyris(), intorder=order)
        self.inplane = Basis(mesh, ElementVector(ElementTriP3()), intorder=order)
        fields_w = [b[0] for b in self.heights.basis]
        fields_u = [b[0] for b in self.inplane.basis]
        self.weight = self.heights.dx
        # (element, point, function)
        self.value = np.stack([np.asarray(f.value) for f in fields_w], axis=-1)
        self.slope = np.stack([np.asarray(f.grad) for f in fields_w], axis=-1)
        hess = np.stack([np.asarray(f.hess) for f in fields_w], axis=-1)
        self.curve = np.stack([hess[0, 0], hess[1, 1], 2.0 * hess[0, 1]], axis=2)
        grad = np.stack([np.asarray(f.grad) for f in fields_u], axis=-1)
        self.strain = np.stack([grad[0, 0], grad[1, 1], grad[0, 1] + grad[1, 0]], axis=2)
        self.size = self.heights.N + self.inplane.N
        self.dofs = np.vstack(
            [self.heights.element_dofs, self.heights.N + self.inplane.element_dofs]
        ).T
        x, y = np.asarray(self.heights.global_coordinates().value)
        # Slopes of the bare bow: height 2 K r^2.
        self.bare_slope = 4.0 * self.bare * np.stack([x, y])
        self.constraints = self._constraints(mesh)

    def _constraints(self, mesh: MeshTri) -> csr_matrix:
        """Rows that hold the plate: its support, and what that leaves of rigid motion."""
        centre = int(np.argmin(np.hypot(*mesh.p)))
        east = int(np.argmax(mesh.p[0]))
        nodal = self.heights.nodal_dofs
        held = [nodal[0, centre], nodal[1, centre], nodal[2, centre]]
        points = None
        if self.support == "rim":
            held = list(nodal[0, np.unique(mesh.facets[:, mesh.boundary_facets()])])
        elif self.support == "three-points":
            held = []
            angles = self.support_azimuth + 2.0 * np.pi * np.arange(3) / 3.0
            # A polygon ends inside the circle, hence the last permille.
            reach = self.support_radius * 0.999
            points = self.heights.probes(reach * np.stack([np.cos(angles), np.sin(angles)]))
        n = self.heights.N
        flat = self.inplane.nodal_dofs
        held += [n + flat[0, centre], n + flat[1, centre], n + flat[1, east]]
        rows = coo_matrix(
            (np.ones(len(held)), (np.arange(len(held)), held)), shape=(len(held), self.size)
        )
        if points is None:
            return rows.tocsr()
        points = coo_matrix(points)
        points.resize(points.shape[0], self.size)
        return vstack([rows, points]).tocsr()

    def solve(
        self, force: float, start: np.ndarray | None = None, *, linear: bool = False
    ) -> np.ndarray:
        """Displacements (heights, then in-plane) under a reduced film force S and the weight."""
        state = np.zeros(self.size) if start is None else start.copy()
        count = self.constraints.shape[0]
        for _ in range(1 if linear else 25):
            residual, tangent = self._residual(state, force, linear=linear)
            block = vstack(
                [
                    csr_matrix(
                        coo_matrix(
                            (
                                np.concatenate([tangent.data, self._c.data, self._c.data]),
                                (
                                    np.concatenate([tangent.row, self._c.row + self.size, self._c.col]),
                                    np.concatenate([tangent.col, self._c.col, self._c.row + self.size]),
                                ),
                            ),
                            shape=(self.size + count, self.size + count),
                        )
                    )
                ]
            ).tocsc()
            right = np.concatenate([residual, self.constraints @ state])
            step = splu(block).solve(right)[: self.size]
            state = state - step
            if np.max(np.abs(step[: self.heights.N])) < 1e-8 * max(1.0, np.max(np.abs(state))):
                break
        else:
            if not linear:
                raise ArithmeticError("no equilibrium found")
        return state

    @property
    def _c(self) -> coo_matrix:
        return self.constraints.tocoo()

    def _residual(
        self, state: np.ndarray, force: float, *, linear: bool
    ) -> tuple[np.ndarray, coo_matrix]:
        local = state[self.dofs]
        n = self.value.shape[-1]
        w, u = local[:, :n], local[:, n:]
        curvature = np.einsum("eqin,en->eqi", self.curve, w)
        curvature[..., :2] -= 4.0 * self.bare
        moment = curvature @ self.q / 12.0
        moment[..., :2] -= force / 3.0
        shape = (*self.weight.shape, 3, self.dofs.shape[1])
        stretch = np.zeros(shape)
        stretch[..., n:] = self.strain
        strain = np.einsum("eqin,en->eqi", self.strain, u)
        if not linear:
            p = np.einsum("deqn,en->deq", self.slope, w)
            p0 = self.bare_slope
            strain[..., 0] += 0.5 * (p[0] ** 2 - p0[0] ** 2)
            strain[..., 1] += 0.5 * (p[1] ** 2 - p0[1] ** 2)
            strain[..., 2] += p[0] * p[1] - p0[0] * p0[1]
            gx, gy = self.slope[0], self.slope[1]
            stretch[..., 0, :n] = p[0][..., None] * gx
            stretch[..., 1, :n] = p[1][..., None] * gy
            stretch[..., 2, :n] = p[0][..., None] * gy + p[1][..., None] * gx
        force_in_plane = strain @ self.q
        dx = self.weight[..., None]
        elements, points = self.weight.shape
        flat = (elements, points * 3, -1)
        curve = self.curve.reshape(flat)
        stretch = stretch.reshape(flat)
        out = np.einsum("ekn,ek->en", stretch, (force_in_plane * dx).reshape(elements, -1))
        out[:, :n] += np.einsum("ekn,ek->en", curve, (moment * dx).reshape(elements, -1))
        out[:, :n] += self.load * np.einsum("eqn,eq->en", self.value, self.weight)
        residual = np.bincount(self.dofs.ravel(), out.ravel(), self.size)

        def form(b: np.ndarray, stiffness: np.ndarray) -> np.ndarray:
            weighted = (
                stiffness @ b.reshape(elements, points, 3, -1) * self.weight[..., None, None]
            ).reshape(flat)
            return np.swapaxes(b, 1, 2) @ weighted

        tangent = form(stretch, self.q)
        tangent[:, :n, :n] += form(curve, self.q / 12.0)
        if not linear:
            forces = force_in_plane * dx
            gx, gy = self.slope
            nx = forces[..., 0, None] * gx + forces[..., 2, None] * gy
            ny = forces[..., 2, None] * gx + forces[..., 1, None] * gy
            tangent[:, :n, :n] += np.swapaxes(gx, 1, 2) @ nx + np.swapaxes(gy, 1, 2) @ ny
        rows = np.repeat(self.dofs, self.dofs.shape[1], axis=1).ravel()
        columns = np.tile(self.dofs, (1, self.dofs.shape[1])).ravel()
        return residual, coo_matrix((tangent.ravel(), (rows, columns)), shape=(self.size,) * 2)

    def profile(self, state: np.ndarray, positions: np.ndarray, azimuth: float = 0.0) -> np.ndarray:
        """Heights along a diameter."""
        line = np.stack([positions * np.cos(azimuth), positions * np.sin(azimuth)])
        key = (positions.tobytes(), azimuth)
        if key not in self._prepared:
            self._prepared[key] = self.heights.probes(line)
        return self._prepared[key] @ state[: self.heights.N]

    def fitted(
        self, state: np.ndarray, low: float = -0.99, high: float = 0.99, azimuth: float = 0.0
    ) -> float:
        """K of the parabola fitted evenly over a window (Gauss points, so exact for an even scan)."""
        nodes, weights = np.polynomial.legendre.leggauss(24)
        middle, half = 0.5 * (low + high), 0.5 * (high - low)
        z = self.profile(state, middle + half * nodes, azimuth)
        return float((7.5 * weights * (1.5 * nodes**2 - 0.5)) @ z / half**2 / 4.0)
