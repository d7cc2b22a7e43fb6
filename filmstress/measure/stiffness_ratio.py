"""The stiffness that the wafer's weight sees, over the one that was stated."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from filmstress.measure.film import Film, gauge_label, gauge_terms, same_gauge
from filmstress.measure.response import turning
from filmstress.measure.weighed_line import WeighedLine
from filmstress.physics import weight_calibration as physics
from filmstress.records.budget import Budget, Term
from filmstress.records.quantity import Measured
from filmstress.stats.budget import combine, merge_shared, scale, term

Floats = NDArray[np.float64]

# The weight's change of curvature must be seen this well, and be at least this much of
# q R^2/(8 D): else the two supports bend the wafer too nearly alike.
_LEAST_SEEN, _LEAST_SIGNAL = 0.2, 0.1
# More of the sag than this may not be owed to large deflection.
_MOST_STRETCHED = 0.1
# A ratio farther from 1 is no wrong thickness but a wrong scan or support.
WILD_RATIO = 3.0


class StiffnessRatio:
    """Stiffness seen over stated, p = sum of expected / sum of seen changes, and its terms."""

    def __init__(self, film: Film, lines: Sequence[WeighedLine]) -> None:
        self.film, self.lines = film, lines
        self.seen = math.fsum(line.seen for line in lines)
        self.expected = math.fsum(line.expected for line in lines)
        self.value = self.expected / self.seen if self.seen else math.inf
        self._slopes: dict[bytes, float] = {}

    def useless(self) -> str | None:
        """Why the weight tells nothing, if so."""
        n = len(self.lines)
        unit = math.fsum(physics.sag_unit(line.weighed(), line.along()) for line in self.lines)
        if abs(self.expected) < _LEAST_SIGNAL * unit:
            return "it bends the wafer nearly alike on both supports; choose other ones"
        u = combine(list(self.fit_terms(1.0))).u
        if u > _LEAST_SEEN * abs(self.expected):
            return (
                f"the scans tell its change of curvature to ± {1e3 * u / n:.2g} 1/km, against "
                f"{1e3 * self.expected / n:.2g} 1/km that it should be"
            )
        if not 1.0 / WILD_RATIO < self.value < WILD_RATIO:
            return (
                f"the change of curvature is {1e3 * self.seen / n:.3g} 1/km where the two supports "
                f"should make it {1e3 * self.expected / n:.3g} 1/km; are the scans exchanged, or "
                "the supports other ones?"
            )
        worst = max((line.stretched for line in self.lines), key=abs)
        if abs(worst) > _MOST_STRETCHED:
            return (
                f"the sag is not small against the thickness: stretching changes it by "
                f"{100 * abs(worst):.0f} %; choose supports that bend the wafer less"
            )
        return None

    def slope(self, change: Floats) -> float:
        """Relative change of the expected curvature for a small change of Q [1]."""
        key = change.tobytes()
        if key not in self._slopes:
            q = self.film.plate.reduced
            step = 1e-4 * float(np.max(np.abs(q))) / float(np.max(np.abs(change)))
            high, low, here = (
                math.fsum(line.linear(reduced_pa=q + side * step * change) for line in self.lines)
                for side in (1.0, -1.0, 0.0)
            )
            self._slopes[key] = (high - low) / (2.0 * step * here)
        return self._slopes[key]

    def terms(self) -> list[Term]:
        """Of ln p, but for the plate's."""
        terms = list(scale(self.fit_terms(1.0), -1.0 / self.seen))
        for line in self.lines:
            terms += scale(line.terms(), 1.0 / self.expected)
            terms += self.scale_terms(line)
        return list(merge_shared(terms))

    def own_budget(self) -> Budget:
        """Of p itself."""
        plate: dict[str, list[tuple[Measured, float]]] = {}
        for source in self.film.plate.inputs:
            if source.measured.u:
                effect = self.slope(source.derivative)
                plate.setdefault(source.row, []).append((source.measured, effect))
        terms = self.terms()
        for name, parts in plate.items():
            u = math.hypot(*(effect * (measured.u or 0.0) for measured, effect in parts))
            terms.append(
                Term(
                    input=name,
                    value=parts[0][0].value if len(parts) == 1 else self.film.modulus,
                    unit=parts[0][0].unit if len(parts) == 1 else "Pa",
                    u=parts[0][0].u or 0.0 if len(parts) == 1 else u * self.film.modulus,
                    sensitivity=parts[0][1] if len(parts) == 1 else -1.0 / self.film.modulus,
                    common_to=self.film.plate.common_to,
                    source=parts[0][0].source,
                )
            )
        azimuth = self.film.wafer.lines[0].azimuth
        if azimuth.u:
            common = self.film.wafer.named
            turned = self.slope(turning(self.film.plate.reduced))
            terms.append(term("cut and azimuth", azimuth, turned, common_to=common))
        return combine(scale(terms, self.value))

    def fit_terms(self, factor: float) -> Iterator[Term]:
        """What the scans leave open of the seen change, output in 1/m."""
        for line in self.lines:
            suffix = f", line {line.number + 1}" if len(self.lines) > 1 else ""
            for one in scale(line.change.terms, factor):
                # What other scans share keeps its one name.
                name = one.input if one.common_to else f"bare scans, {one.input}{suffix}"
                yield replace(one, input=name)

    def scale_terms(self, line: WeighedLine) -> Iterator[Term]:
        """Scales of the gauge; that of the positions also sets the window."""
        first, second = line.scans
        share = -1.0 / self.seen
        label = gauge_label(self.film.wafer, line.number, second)
        if same_gauge(first, second):
            yield from gauge_terms(second, share * line.seen, label)
        else:
            before = line.change.pre_curvature
            other = gauge_label(self.film.wafer, line.number, first, " of the weight, first")
            yield from gauge_terms(first, -share * before, other)
            yield from gauge_terms(second, share * (before + line.seen), label)
        window = line.window_slope() / self.expected
        position, _ = gauge_terms(second, 1.0, label)
        yield replace(position, sensitivity=window)
