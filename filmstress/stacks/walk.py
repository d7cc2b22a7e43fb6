"""From state to state: what each step did to the forces and the bow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from filmstress.records.budget import Term
from filmstress.records.quantity import Estimate
from filmstress.records.result import StressResult
from filmstress.records.stack import Known, Layer, StackSpec, StackState, StateFound
from filmstress.stacks.parts import StackPlate, Told, over, stated, stress_of, thermal_part, times
from filmstress.stats.budget import term


@dataclass(frozen=True, slots=True, eq=False)
class Measurements:
    """Results of the pairs of a stack, by the later state's name.

    ``steps`` from the state before, ``wholes`` from the first scanned state; ``length`` of the
    scan [m].
    """

    steps: Mapping[str, StressResult]
    wholes: Mapping[str, StressResult]
    length: float

    @property
    def arm(self) -> float:
        """Bow over curvature, L^2/8 [m^2]."""
        return self.length**2 / 8.0


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """What a step did.

    ``force`` is what it added [N/m], signed by the face; ``stress`` that of the layer that came or
    went, or its change [Pa]; ``expected`` the force as far as it is known without this step's own
    measurement; ``share`` how much of Stoney's bending it makes.
    """

    layer: Layer | None
    force: Told | None
    stress: Told | None
    expected: Told | None
    share: Told
    known: Known


class Walk:
    """The wafer on its way through the states.

    Parameters
    ----------
    stack : StackSpec
    plate : StackPlate
    measurements : Measurements
    by_strip : mapping of str to Told
        Signed forces of layers that were found when they were stripped.

    Attributes
    ----------
    found : list of StateFound
    on : dict
        Layers now on the wafer with their signed forces, in the order in which they came.
    curvature : Told or None
        Of the wafer now [1/m].
    """

    def __init__(
        self,
        stack: StackSpec,
        plate: StackPlate,
        measurements: Measurements,
        by_strip: Mapping[str, Told] | None = None,
    ) -> None:
        self.stack, self.plate, self.measurements = stack, plate, measurements
        self.known_by_strip = by_strip or {}
        self.by_strip: dict[str, Told] = {}
        self.found: list[StateFound] = []
        self.on: dict[str, tuple[Layer, Told | None]] = {}
        self.curvature: Told | None = None
        self._total: Told | None = Told(0.0)
        self._total_first: Told | None = None
        # What the films bend beyond Stoney's equation since the first scanned state [N/m].
        self._beyond: Told | None = Told(0.0)

    def through(self) -> Walk:
        """Itself, after all states."""
        for number, state in enumerate(self.stack.states):
            self._enter(state, self._step(state) if number else None)
        return self

    @property
    def layers(self) -> list[Layer]:
        """Layers now on the wafer."""
        return [layer for layer, _ in self.on.values()]

    def bow(self, curvature: Told | None) -> Estimate | None:
        """The bow over the scan of a curvature."""
        arm = self.measurements.arm
        return None if curvature is None else curvature.times(arm).estimate("m")

    def _enter(self, state: StackState, step: _Step | None) -> None:
        predicted: Told | None = None
        if step is not None:
            expected = step.expected if state.step is not None else step.force
            if expected is not None and self.curvature is not None:
                bent = self.plate.curvature(times(expected, step.share))
                predicted = self.curvature + bent
            self._sum_up(state, step)
        measured = self._measured_curvature(state)
        if step is None and not state.scanned:
            measured = self._bare()
        self.curvature = predicted if measured is None else measured
        if state.scanned and self._total_first is None:
            self._total_first, self._beyond = self._total, Told(0.0)
        known = Known.STATED if step is None else Known.PREDICTED
        if state.scanned and measured is not None:
            known = Known.MEASURED
        beside = predicted if known is Known.MEASURED else None
        self.found.append(self._told(state, step, beside, known))

    def _told(
        self, state: StackState, step: _Step | None, predicted: Told | None, known: Known
    ) -> StateFound:
        force = stress = thermal = None
        if step is not None:
            force, stress = step.force, step.stress
        if state.layer is not None:
            stack = self.stack
            thermal = thermal_part(state.layer, stack.substrate, stack.substrate_expansion)
        intrinsic = None
        if thermal is not None and stress is not None:
            intrinsic = stress + thermal.times(-1.0)
        budget = stress or force
        return StateFound(
            state=state,
            layer=None if step is None else step.layer,
            known=None if step is None else step.known,
            stress=self._stress(state, stress),
            force=None if force is None else force.estimate("N/m"),
            total=None if self._total is None else self._total.estimate("N/m"),
            thermal=None if thermal is None else thermal.estimate("Pa"),
            intrinsic=None if intrinsic is None else intrinsic.estimate("Pa"),
            bow=self.bow(self.curvature),
            bow_known=known,
            bow_predicted=self.bow(predicted),
            budget=None if budget is None else budget.budget(),
            measured=self.measurements.steps.get(state.name),
        )

    def _stress(self, state: StackState, stress: Told | None) -> Estimate | None:
        if stress is None:
            return None
        measured = self.measurements.steps.get(state.name)
        alone = state.layer is not None and len(self.on) == 1
        if measured is not None and measured.stress is not None and alone:
            # With its interval by Monte Carlo, where the first order fails.
            return measured.stress
        return stress.estimate("Pa")

    def _step(self, state: StackState) -> _Step:
        """What a step did; the layers on the wafer follow."""
        layer, before = state.layer, None
        name = state.name if layer else state.strips or state.changes
        if layer is not None:
            self.on[name] = (layer, None)
        elif name:
            layer, before = self.on[name]
        share = Told(1.0)
        if layer is not None:
            share = self.plate.share(self.layers, list(self.on).index(name))
        measured = self.measurements.steps.get(state.name)
        if measured is None:
            step = self._unmeasured(state, layer, before, share)
        else:
            step = self._measured(state, measured, layer, before, share)
        if state.layer is not None:
            self.on[name] = (state.layer, step.force)
        elif state.strips:
            del self.on[name]
            if before is None and step.force is not None:
                self.by_strip[name] = step.force.times(-1.0)
        elif layer is not None and before is not None and step.force is not None:
            self.on[name] = (layer, before + step.force)
        return step

    def _unmeasured(
        self, state: StackState, layer: Layer | None, before: Told | None, share: Told
    ) -> _Step:
        if state.layer is None:
            gone = None if before is None else before.times(-1.0)
            stress = None if before is None or layer is None else _stress_of(layer, before)
            return _Step(layer, gone, stress, gone, share, Known.PREDICTED)
        force = _stated_force(state.layer)
        if force is not None:
            stress = _stress_of(state.layer, force)
            known = Known.RECORDED if state.layer.recorded else Known.STATED
            return _Step(layer, force, stress, force, share, known)
        force = self.known_by_strip.get(state.name)
        stress = None if force is None else _stress_of(state.layer, force)
        return _Step(layer, force, stress, force, share, Known.MEASURED)

    def _measured(
        self,
        state: StackState,
        measured: StressResult,
        layer: Layer | None,
        before: Told | None,
        share: Told,
    ) -> _Step:
        expected: Told | None = None
        if state.layer is not None:
            expected = _stated_force(state.layer)
        elif state.strips and before is not None:
            expected = before.times(-1.0)
        if measured.refusal is not None:
            return _Step(layer, None, None, expected, share, Known.MEASURED)
        if layer is None or layer.film.thickness is None or measured.stress is None:
            force = _told(measured)
            return _Step(layer, force, None, expected, share, Known.MEASURED)
        # The chain takes the film as the only one: 1 + h_f/h_s of Stoney's bending.
        alone = Told(1.0 + layer.film.thickness.value / self.plate.thickness)
        stress = over(times(_told(measured), alone), share)
        force = _force_of(layer, stress)
        stress = stress.times(-1.0) if state.strips else stress
        return _Step(layer, force, stress, expected, share, Known.MEASURED)

    def _sum_up(self, state: StackState, step: _Step) -> None:
        whole = self.measurements.wholes.get(state.name)
        if step.force is None:
            self._beyond = None
        elif self._beyond is not None:
            more = step.share + Told(-1.0)
            self._beyond = self._beyond + times(step.force, more)
        if whole is not None and whole.refusal is None and self._total_first is not None:
            self._total = self._total_first + _told(whole)
            if self._beyond is not None:
                self._total = self._total + self._beyond.times(-1.0)
        elif self._total is not None:
            self._total = None if step.force is None else self._total + step.force

    def _measured_curvature(self, state: StackState) -> Told | None:
        """Of a scanned state; the first is the earlier scan of every pair."""
        if not state.scanned:
            return None
        whole = self.measurements.wholes.get(state.name)
        first = next(iter(self.measurements.wholes.values()))
        if (whole or first).refusal is not None:
            # What a clamp leaves, or a scan of another wafer, is no bow of this one.
            return None
        found = first.curvature_pre if whole is None else whole.curvature_post
        return _as_input(f"bow of '{state.name}' as scanned", found)

    def _bare(self) -> Told:
        bare = self.stack.bare_bow
        if bare is None:
            return Told(0.0)
        return stated("bare bow", bare).times(1.0 / self.measurements.arm)


def _as_input(name: str, found: Estimate) -> Told:
    one = Term(
        input=name,
        value=found.value,
        unit=found.unit,
        u=found.u or 0.0,
        sensitivity=1.0,
        dof=found.dof,
        evaluation="A",
        common_to="its scans",
    )
    return Told(found.value, (one,))


def _told(result: StressResult) -> Told:
    """Stress [Pa], or force per width [N/m] without a thickness, with the rows of its budget."""
    value = result.stress or result.force_per_width
    assert value is not None
    return Told(value.value, tuple(row.term for row in result.budget.rows))


def _force_of(layer: Layer, stress: Told) -> Told:
    """Signed force of a layer's stress: s sigma h_f."""
    h = layer.film.thickness
    assert h is not None
    own = term("film thickness", h, stress.value, common_to=layer.film.thickness_common_to)
    return stress.times(h.value, own).times(layer.face_sign)


def _stress_of(layer: Layer, force: Told) -> Told:
    """Stress of a layer's signed force."""
    h = layer.film.thickness
    assert h is not None
    stress = force.times(layer.face_sign / h.value)
    slope = -stress.value / h.value
    own = term("film thickness", h, slope, common_to=layer.film.thickness_common_to)
    return stress + Told(0.0, (own,))


def _stated_force(layer: Layer) -> Told | None:
    stress = stress_of(layer, common_to=f"layer {layer.name}")
    return None if stress is None else _force_of(layer, stress)
