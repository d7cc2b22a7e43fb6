"""Scans and lines of a wafer's request."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from filmstress.inputs.builder import Builder, spoken
from filmstress.inputs.defaults import DEFAULTS, REPEATABILITIES, SCALE_UNCERTAINTIES
from filmstress.inputs.settings import Setting, Settings
from filmstress.records.quantity import Measured, Source
from filmstress.records.scan import ReadingOptions
from filmstress.records.wafer import LineSpec, ScanSpec, State, Support

LABELS = ("instrument", "operator", "date", "temperature")
FROM_LOT = "from-lot"

# A re-loaded wafer is turned by a degree or two; far beyond that it is another line.
SAME_LINE_RAD = math.radians(10.0)

Stated = Callable[[str], Setting | None]


@dataclass(frozen=True, slots=True)
class LineInput:
    """One line: its own settings, and the file of each of its states, oldest first."""

    settings: Settings
    paths: Mapping[str, str | None]
    where: str


def line_spec(build: Builder, settings: Settings, line: LineInput, base: Path | None) -> LineSpec:
    """One line in all its states; ``settings`` already hold what the line itself states."""
    names = list(line.paths)
    scans = {
        name: scan_spec(build, settings, name, located(line.paths[name], base), base)
        for name in names
    }
    first = scans[names[0]].azimuth.value
    for name in names[1:]:
        angle = scans[name].azimuth.value - first
        if abs(math.remainder(angle, math.pi)) > SAME_LINE_RAD:
            build.fault(
                f"the {name} scan runs at {math.degrees(scans[name].azimuth.value):.4g} deg and "
                f"the {names[0]} scan at {math.degrees(first):.4g} deg: they are not one line",
                f"name a scan of the same line; one taken from the other end has {name}_azimuth "
                "half a turn off",
                line.where,
            )
        scans[name] = replace(scans[name], offset=_offset(build, settings, names[0], name))
    scans[names[0]] = replace(scans[names[0]], offset=None)
    return LineSpec(tuple(State(name, scans[name]) for name in names))


def located(path: str | None, base: Path | None) -> str | None:
    """A path as the program can open it: a lot file's start from its own folder."""
    return path if path is None or base is None else str(base / path)


def _offset(build: Builder, settings: Settings, first: str, name: str) -> Measured | None:
    """Where a later scan lies on the first one, as stated: ``offset``, less ``pre_offset``."""
    offset = build.quantity(settings.of_scan(name, "offset"))
    of_first = build.quantity(settings.scan.get((first, "offset")))
    if of_first is None:
        return offset
    own = offset or Measured(0.0, "m", 0.0)
    return replace(
        of_first,
        value=own.value - of_first.value,
        u=math.hypot(own.u or 0.0, of_first.u or 0.0),
        dof=min(own.dof, of_first.dof),
        read_as="second scan less first",
    )


def scan_spec(
    build: Builder, settings: Settings, state: str, path: str | None, base: Path | None
) -> ScanSpec:
    """Conditions of one scan: what is stated of its state, else of all scans."""

    def stated(name: str) -> Setting | None:
        return settings.of_scan(state, name)

    window = build.value(stated("window"))
    support = build.text(stated("support"))
    datum = build.text(stated("datum"))
    azimuth = _azimuth(build, stated("azimuth"))
    return ScanSpec(
        path=path,
        azimuth=azimuth,
        support=Support(support) if support else None,
        support_radius=build.quantity(stated("support_radius")),
        support_azimuth=build.quantity(stated("support_azimuth")),
        origin=build.quantity(stated("origin")),
        window=window if isinstance(window, tuple) else None,
        datum=datum if datum == FROM_LOT else located(datum, base),
        height_up=build.word(stated("height_up"), "yes") == "yes",
        # A file that holds a map gives the line along the scan's own azimuth.
        reading=replace(reading_of(build, stated), line_azimuth=azimuth.value),
        labels=tuple((name, text) for name in LABELS if (text := build.text(stated(name)))),
        **{name: _repeatability(build, stated(name), name) for name in REPEATABILITIES},
        **{name: scale_factor(build, stated, name) for name in SCALE_UNCERTAINTIES},
    )


def _azimuth(build: Builder, setting: Setting | None) -> Measured:
    azimuth = build.quantity(setting)
    if azimuth is not None:
        return azimuth
    default = DEFAULTS["scan.azimuth"]
    if setting is None:
        build.note(f"azimuth: not stated, 0 deg with {default.words}")
    return default.apply(Measured(0.0, "rad"))


def _repeatability(build: Builder, setting: Setting | None, name: str) -> Measured:
    """A stated repeatability r becomes an input of value 0 and standard uncertainty r."""
    if setting is None:
        build.note(f"{spoken(name)}: not stated, taken as 0")
        return Measured(0.0, "m", 0.0, read_as="not stated, taken as 0", source=Source.DEFAULT)
    return _spread(build.quantity(setting), Measured(0.0, "m"))


def scale_factor(build: Builder, stated: Stated, name: str) -> Measured:
    """A stated relative uncertainty u becomes a scale factor of value 1 and uncertainty u."""
    default = SCALE_UNCERTAINTIES[name]
    if (setting := stated(f"{name}_uncertainty")) is None:
        words = f"default ± {default * 100:g} %"
        build.note(f"{spoken(name)}: no uncertainty stated, {words}")
        return Measured(1.0, "1", default, read_as=words, source=Source.DEFAULT)
    return _spread(build.quantity(setting), Measured(1.0, "1"))


def _spread(stated: Measured | None, of: Measured) -> Measured:
    """The input ``of`` with a stated standard uncertainty.

    A ± on an uncertainty is the doubt about it; it becomes degrees of freedom (JCGM 100:2008,
    G.3: half the inverse square of the relative doubt).
    """
    if stated is None:
        return replace(of, u=0.0)
    dof = 0.5 * (stated.value / stated.u) ** 2 if stated.u else math.inf
    return replace(of, u=stated.value, dof=max(dof, 1.0), read_as="stated")


def reading_of(build: Builder, stated: Stated) -> ReadingOptions:
    """What is stated about a file's layout."""
    interval = build.quantity(stated("interval"))
    return ReadingOptions(
        position_unit=build.text(stated("position_unit")),
        height_unit=build.text(stated("height_unit")),
        decimal=build.text(stated("decimal")),
        columns=build.text(stated("columns")),
        interval=interval.value if interval else None,
        trace=build.text(stated("trace")),
    )
