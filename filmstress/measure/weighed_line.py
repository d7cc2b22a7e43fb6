"""One line of a bare wafer on two supports: what its weight should make of it, and how surely."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from filmstress.measure.plate import Plate
from filmstress.physics import weight_calibration as physics
from filmstress.physics.elasticity import rotate_reduced
from filmstress.records.budget import Term
from filmstress.records.curvature import CurvatureChange
from filmstress.records.quantity import Measured, Shape, Source
from filmstress.records.wafer import ScanSpec, Support, WaferSpec
from filmstress.stats.budget import term

Floats = NDArray[np.float64]

# Of q R^2/(8 D), for one support: what finite elements found the plate's solution to leave.
_MODEL_DOUBT = 0.002
# Of what large deflection takes off the sag: a bare bow that is no sphere.
_STRETCH_DOUBT = 0.25
# Where the wafer lies on its supports, and the scan on the wafer, if that is not stated.
_PLACE_DOUBT = Measured(0.0, "m", 1e-3 / math.sqrt(3.0), shape=Shape.RECTANGULAR)
_STEP = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class WeighedLine:
    """Two bare scans of one line and what they were taken on.

    Attributes
    ----------
    wafer : WaferSpec
    plate : Plate
    density : Measured
        [kg/m^3].
    number : int
        Of the line in the wafer.
    change : CurvatureChange
        Second scan less first.
    seen : float
        Change of curvature between the supports, whole [1/m].
    stretched : float
        What large deflection adds to the linear expectation, relative to it [1].
    """

    wafer: WaferSpec
    plate: Plate
    density: Measured
    number: int
    change: CurvatureChange
    seen: float = 0.0
    stretched: float = 0.0

    @property
    def scans(self) -> tuple[ScanSpec, ScanSpec]:
        """Conditions of the first and of the second scan."""
        first, second = self.wafer.lines[self.number].weight
        return first.scan, second.scan

    @property
    def radius(self) -> float:
        """Of the wafer [m]."""
        diameter = self.wafer.substrate.diameter
        if diameter is None:
            raise ValueError("the weight is told with a diameter only")
        return diameter.value / 2.0

    def weighed(
        self,
        *,
        thickness_m: float | None = None,
        widened: float = 1.0,
        moved_m: float = 0.0,
        stretch: float = 1.0,
    ) -> physics.Weighed:
        """The bare wafer; its radius widened, or the window moved or stretched."""
        fit, radius = self.change.change, self.radius * widened
        half = 0.5 * fit.length * stretch
        return physics.Weighed(
            density_kg_per_m3=self.density.value,
            gravity_m_per_s2=self.wafer.gravity.value,
            thickness_m=thickness_m or self.wafer.substrate.thickness.value,
            wafer_radius_m=radius,
            window_low_m=max(fit.centre + moved_m - half, -radius),
            window_high_m=min(fit.centre + moved_m + half, radius),
        )

    def support(self, scan: ScanSpec) -> physics.Support:
        """What carried the wafer, seen from the line."""
        if scan.support is not Support.THREE_POINTS or scan.support_radius is None:
            return physics.Support(str(scan.support))
        azimuth = scan.support_azimuth
        return physics.Support(
            str(scan.support),
            scan.support_radius.value,
            None if azimuth is None else self.change.azimuth - azimuth.value,
        )

    def along(self, reduced_pa: Floats | None = None) -> Floats:
        """Q with axis x along the line [Pa]."""
        q = self.plate.reduced if reduced_pa is None else reduced_pa
        return np.asarray(rotate_reduced(q, self.change.azimuth))

    def linear(
        self,
        *,
        scans: tuple[ScanSpec, ScanSpec] | None = None,
        reduced_pa: Floats | None = None,
        wafer: physics.Weighed | None = None,
    ) -> float:
        """Change of curvature that the linear plate expects [1/m], with something changed."""
        first, second = (self.support(scan) for scan in scans or self.scans)
        return physics.weight_change(wafer or self.weighed(), first, second, self.along(reduced_pa))

    @property
    def expected(self) -> float:
        """Change of curvature that the stated stiffness makes the weight have [1/m]."""
        return self.linear() * (1.0 + self.stretched)

    def stretching(self, *, thickness_m: float, bare_curvature_per_m: float) -> float:
        """What large deflection adds, relative to the linear expectation [1]."""
        first, second = (self.support(scan) for scan in self.scans)
        wafer = self.weighed(thickness_m=thickness_m)
        more = physics.stretched_change(
            wafer, first, second, self.along(), bare_curvature_per_m=bare_curvature_per_m
        )
        return more / self.linear(wafer=wafer)

    def terms(self) -> Iterator[Term]:
        """What makes `expected` uncertain, but for the plate; output in 1/m."""
        wafer, here, common = self.wafer, self.expected, self.wafer.named
        yield term(
            "density", self.density, here / self.density.value, common_to=self.plate.common_to
        )
        yield term("gravity", wafer.gravity, here / wafer.gravity.value, common_to="site")
        thickness = wafer.substrate.thickness
        yield term(
            "substrate thickness",
            thickness,
            -2.0 * here / thickness.value,
            common_to=wafer.substrate.thickness_common_to,
        )
        diameter = wafer.substrate.diameter
        if diameter is not None and diameter.u:
            slope = self._slope(widened=_STEP) / (_STEP * diameter.value)
            yield term("diameter", diameter, slope, common_to=common)
        place = self.scans[0].origin or _PLACE_DOUBT
        if place.u:
            slope = self._slope(moved_m=_STEP) / _STEP
            source = Source.STATED if self.scans[0].origin else Source.DEFAULT
            yield replace(term("place of the bare scans", place, slope), source=source)
        for number, scan in enumerate(self.scans):
            yield from self._support_terms(number, scan)
        unit = physics.sag_unit(self.weighed(), self.along())
        yield _doubt("model of the sag", 0.0, math.sqrt(2.0) * _MODEL_DOUBT, unit)
        if self.stretched:
            doubt = _STRETCH_DOUBT * abs(self.stretched)
            yield _doubt("large deflection of the sag", self.stretched, doubt, self.linear())

    def window_slope(self) -> float:
        """Change of `expected` with the logarithm of the window's length [1/m]."""
        return self._slope(stretch=_STEP) / _STEP

    def _slope(self, *, widened: float = 0.0, moved_m: float = 0.0, stretch: float = 0.0) -> float:
        high, low = (
            self.linear(
                wafer=self.weighed(
                    widened=1.0 + side * widened,
                    moved_m=side * moved_m,
                    stretch=1.0 + side * stretch,
                )
            )
            for side in (0.5, -0.5)
        )
        return high - low

    def _support_terms(self, number: int, scan: ScanSpec) -> Iterator[Term]:
        if scan.support is not Support.THREE_POINTS:
            return
        name = ("first", "second")[number]
        radius, azimuth = scan.support_radius, scan.support_azimuth
        if radius is not None and radius.u:
            # Inwards only: points at the rim cannot move out.
            nearer = replace(radius, value=radius.value * (1.0 - _STEP))
            slope = self._moved(number, replace(scan, support_radius=nearer))
            yield term(
                f"support radius, {name}",
                radius,
                slope / (-_STEP * radius.value),
                common_to=f"support at {1e3 * radius.value:.4g} mm",
            )
        if azimuth is None:
            # The extremes of a cosine of three times the angle, which may be any.
            extreme = Measured(self.change.azimuth, "rad", 0.0)
            half = self._moved(number, replace(scan, support_azimuth=extreme))
            yield replace(
                _doubt(f"support azimuth, {name}", 0.0, 1.0 / math.sqrt(2.0), half),
                common_to=self.wafer.named,
                source=Source.DEFAULT,
            )
        elif azimuth.u:
            turned = replace(azimuth, value=azimuth.value + _STEP)
            slope = self._moved(number, replace(scan, support_azimuth=turned)) / _STEP
            yield term(f"support azimuth, {name}", azimuth, slope, common_to=self.wafer.named)

    def _moved(self, number: int, scan: ScanSpec) -> float:
        """Change of the linear expectation with one scan's support changed [1/m]."""
        first, second = self.scans
        scans = (scan, second) if number == 0 else (first, scan)
        return self.linear(scans=scans) - self.linear()


def _doubt(name: str, value: float, u: float, sensitivity: float) -> Term:
    return Term(
        input=name,
        value=value,
        unit="1",
        u=u,
        sensitivity=sensitivity,
        common_to="plate theory",
        source=Source.TABLE,
    )
