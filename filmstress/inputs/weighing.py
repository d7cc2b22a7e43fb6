"""Scans of the bare wafer on two supports: what its own weight is told from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from filmstress.inputs.builder import Builder
from filmstress.inputs.defaults import DEFAULTS, WEIGHING_DIAMETER, WEIGHING_RADIUS
from filmstress.inputs.keys import WEIGHINGS
from filmstress.inputs.scan_parts import SAME_LINE_RAD, LineInput, located, scan_spec
from filmstress.inputs.settings import Setting, Settings
from filmstress.records.quantity import Measured
from filmstress.records.wafer import LineSpec, ScanSpec, State, SubstrateSpec, Support

_STANDARD_GRAVITY = 9.80665
_KNOWN = (Support.RIM, Support.CENTRE, Support.THREE_POINTS)
# Nearer than this, two circles of points bend the wafer alike.
_SAME_PLACE_M = 1e-3


def with_weighing(
    build: Builder, settings: Settings, line: LineSpec, given: LineInput, base: Path | None
) -> LineSpec:
    """The line with its two bare scans, where they are named; what is wrong is kept as a fault."""
    first, second = WEIGHINGS
    paths = {name: build.text(settings.scan.get(("", name))) for name in WEIGHINGS}
    for name in WEIGHINGS:
        _no_orphans(build, settings, name, named=paths[name] is not None)
    if not any(paths.values()):
        return line
    if paths[second] is None:
        build.fault(
            "the bare scan on the other support is missing",
            f"name it under {second}; one alone does not tell weight from bow",
            given.where,
        )
        return line
    states = []
    for name in WEIGHINGS:
        path = located(paths[name], base)
        before = line.states[0]
        stated_as = name
        if path is None and before.scan.path is not None and len(line.states) > 1:
            spec, stated_as = before.scan, before.name
        elif path is None:
            build.fault(
                "one bare scan alone is named, and no scan before deposition to go with it",
                f"name the other one under {first}",
                given.where,
            )
            return line
        else:
            spec = scan_spec(build, settings, name, path, base)
            # The general offset speaks of the film's two scans.
            own = build.quantity(settings.scan.get((name, "offset")))
            spec = replace(spec, offset=own if name == second else None)
        if _known_support(build, settings, stated_as, spec, given):
            states.append(State(name, _with_radius(build, settings, stated_as, spec)))
    if len(states) == 2:
        _compare(build, states, line, given)
    return replace(line, weight=tuple(states)) if len(states) == 2 else line


def _no_orphans(build: Builder, settings: Settings, name: str, *, named: bool) -> None:
    """Conditions of a bare scan that is not named; a lot's speak of those wafers that have one."""
    for (state, _), setting in settings.scan.items():
        if state == name and not named and not setting.shared_by.startswith("lot"):
            build.fault(
                f"is stated of a bare scan, and no scan {name} is named",
                f"name its file: {name} = 'weight/01-rim.csv'",
                setting.where,
            )


def _known_support(
    build: Builder, settings: Settings, name: str, spec: ScanSpec, given: LineInput
) -> bool:
    setting = settings.of_scan(name, "support")
    where = setting.where if setting else given.where
    if spec.support not in _KNOWN:
        came = (
            f"how the wafer lay for {name} is not stated"
            if spec.support is None
            else f"the sag of a wafer that lies '{spec.support.value}' is not known"
        )
        build.fault(came, f"state {name}_support: rim, centre or three-points", where)
        return False
    if spec.support is Support.THREE_POINTS and spec.support_radius is None:
        build.fault(
            f"the radius of the three points for {name} is not stated",
            f"state {name}_support_radius, such as '50 mm ± 0.2 mm'",
            where,
        )
        return False
    return True


def _with_radius(build: Builder, settings: Settings, name: str, spec: ScanSpec) -> ScanSpec:
    """The force goes with the radius of the points: one without ± gets a default."""
    setting = settings.of_scan(name, "support_radius")
    if spec.support is not Support.THREE_POINTS or setting is None:
        return spec
    read = build.value(setting)
    if not isinstance(read, Measured):
        return spec
    return replace(
        spec, support_radius=build.filled(read, WEIGHING_RADIUS, f"{name} support radius")
    )


def _compare(build: Builder, states: Sequence[State], line: LineSpec, given: LineInput) -> None:
    first, second = (state.scan for state in states)
    if _place(first) == _place(second):
        build.fault(
            "both bare scans are stated to lie on the same support: the weight then bends the "
            "wafer alike in both",
            f"state how the second one lay: {WEIGHINGS[1]}_support, {WEIGHINGS[1]}_support_radius",
            given.where,
        )
    for state in states:
        angle = state.scan.azimuth.value - line.azimuth.value
        if abs(math.remainder(angle, math.pi)) > SAME_LINE_RAD:
            build.fault(
                f"{state.name} runs at {math.degrees(state.scan.azimuth.value):.4g} deg and its "
                f"line at {math.degrees(line.azimuth.value):.4g} deg",
                "name bare scans of the same line, or state them beside the line that they are of",
                given.where,
            )


def _place(scan: ScanSpec) -> tuple[object, object]:
    radius = scan.support_radius
    if scan.support is not Support.THREE_POINTS or radius is None:
        return scan.support, None
    return scan.support, round(radius.value / _SAME_PLACE_M)


def check_weighing(
    build: Builder,
    gravity: Setting | None,
    lines: Sequence[LineSpec],
    substrate: SubstrateSpec,
    settings: Settings,
) -> tuple[Measured, SubstrateSpec]:
    """Gravity, and the substrate with a diameter that has an uncertainty.

    What the weight cannot be told without is kept as a fault.
    """
    stated = build.quantity(gravity)
    if not any(line.weight for line in lines):
        return stated or Measured(_STANDARD_GRAVITY, "m/s^2", 0.0), substrate
    if substrate.diameter is None:
        build.fault(
            "bare scans on two supports are named, and the wafer's diameter is not stated",
            "state it: substrate diameter '150 mm'; the sag goes with its fourth power",
        )
    else:
        for state in (state for line in lines for state in line.weight):
            radius = state.scan.support_radius
            on_points = state.scan.support is Support.THREE_POINTS
            if on_points and radius and 2.0 * radius.value > substrate.diameter.value:
                build.fault(
                    f"the support of {state.name} lies outside the wafer",
                    "support_radius is counted from the wafer's centre; was its diameter meant?",
                )
    if substrate.material is None and substrate.density is None:
        build.fault(
            "bare scans on two supports are named, and the substrate's density is not stated",
            "state it: substrate density '2500 kg/m^3 ± 10 kg/m^3'",
        )
    diameter = build.value(settings.substrate.get("diameter"))
    if isinstance(diameter, Measured):
        filled = build.filled(diameter, WEIGHING_DIAMETER, "substrate.diameter")
        substrate = replace(substrate, diameter=filled)
    if stated is None:
        default = DEFAULTS["scan.gravity"]
        build.note(f"gravity: not stated, {_STANDARD_GRAVITY} m/s^2 with {default.words}")
        stated = default.apply(Measured(_STANDARD_GRAVITY, "m/s^2"))
    return stated, substrate
