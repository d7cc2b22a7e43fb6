"""Stress against a process parameter for readers: words and JSON."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from filmstress.records.comparison import Sweep
from filmstress.report.budget_data import budget_data
from filmstress.report.comparison import share_lines
from filmstress.report.quantities import Data, bare_data, headed, number, quantity_data, values_data
from filmstress.report.setting_scale import SettingScale
from filmstress.report.text import WIDTH, row, wrapped
from filmstress.report.words import again_words, say_column, say_estimate, say_value
from filmstress.stats.coverage import estimate
from filmstress.stats.crossing import Crossing
from filmstress.stats.fieller import SetKind
from filmstress.stats.line_checks import LineChecks
from filmstress.stats.straight_line import StraightLine

# Below this a check of the line is told as a warning.
_DOUBT = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Swept:
    """Everything found about a sweep.

    Attributes
    ----------
    sweep : Sweep
    line : StraightLine
        Stress [Pa] against the parameter.
    zero : Crossing
        Where the stress is 0.
    target : float or None
        Wanted stress [Pa].
    setting : Crossing or None
        Where the mean of lots is the target.
    checks : LineChecks
    """

    sweep: Sweep
    line: StraightLine
    zero: Crossing
    target: float | None
    setting: Crossing | None
    checks: LineChecks

    @property
    def scale(self) -> SettingScale:
        """The unit in which settings are shown."""
        return SettingScale.of(self.sweep)


def bounded(found: Crossing) -> bool:
    """Whether a setting has an interval with two ends."""
    ends = (found.set.low, found.set.high)
    return found.set.kind is SetKind.INTERVAL and None not in ends


def crossing_words(found: Crossing, scale: SettingScale) -> str:
    """Where a line reaches a level, with its set: an interval, or why there is none."""
    low, high = found.set.low, found.set.high
    sure = f"{100.0 * found.p:.3g} %"
    if bounded(found) and low is not None and high is not None:
        told = f"{scale.say(found.x)}  ({scale.say(low)} to {scale.say(high)}, {sure})"
    elif found.set.kind is SetKind.EVERYTHING:
        return f"unbounded: at {sure} no setting can be excluded, for the slope may be 0"
    elif found.set.kind is SetKind.OUTSIDE and low is not None and high is not None:
        return (
            f"unbounded: the slope may be 0 at {sure}, and only settings between "
            f"{scale.say(low)} and {scale.say(high)} are excluded"
        )
    elif low is not None:
        return f"unbounded above: {scale.say(low)} or more at {sure}"
    else:
        return f"unbounded below: {scale.say(high or 0.0)} or less at {sure}"
    if found.extrapolated:
        told += ", outside the settings tried: nothing says that the line holds there"
    return told


def sweep_text(swept: Swept) -> str:
    """Everything about a sweep, for people."""
    blocks = [
        list(_head(swept)),
        list(_target(swept)),
        list(_points(swept)),
        list(_budget(swept)),
        [line for told in doubts(swept) for line in wrapped(told, "", WIDTH)],
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def headline(swept: Swept) -> str:
    """What a sweep shows, in one line."""
    sweep = swept.sweep
    if not bounded(swept.setting or swept.zero):
        return f"{sweep.stress.name}: stress against {sweep.parameter}, slope not resolved"
    if swept.target is not None and swept.setting is not None:
        at = f"{sweep.parameter} {swept.scale.say(swept.setting.x, 3)}"
        return f"{sweep.stress.name}: {say_value(swept.target, 'Pa')} at {at}"
    turns = "tensile above" if swept.line.slope > 0.0 else "compressive above"
    zero = swept.scale.say(swept.zero.x, 3)
    if swept.zero.extrapolated:
        turns += ", by extrapolation"
    return f"{sweep.stress.name}: no stress at {sweep.parameter} {zero}, {turns}"


def _head(swept: Swept) -> Iterator[str]:
    line = swept.line
    yield headline(swept)
    yield f"  a line through the means of {len(line.x)} lots; tension is positive"
    slope, scale = line.budget(0.0, 1.0), swept.scale
    per = estimate(scale.per_step(line.slope), "Pa", u=scale.per_step(slope.u), dof=slope.dof)
    yield row("slope", f"{say_estimate(per, sign=True)} for 1 {scale.step_word}".rstrip())
    label = row("zero crossing", "")
    yield from wrapped(crossing_words(swept.zero, scale), label + " ", WIDTH)
    yield row("scatter of lots", say_value(line.residual_sd, "Pa", 2), "about the line")


def _target(swept: Swept) -> Iterator[str]:
    if swept.setting is None or swept.target is None:
        return
    scale, wanted = swept.scale, say_value(swept.target, "Pa")
    if not bounded(swept.setting):
        told = crossing_words(swept.setting, scale)
        yield from wrapped(f"No setting is recommended for {wanted}; it is {told}.", "", WIDTH)
        return
    yield from wrapped(
        f"For {wanted} set {swept.sweep.parameter} to {crossing_words(swept.setting, scale)}.",
        "",
        WIDTH,
    )
    x = swept.setting.x - swept.line.centre
    one = swept.line.budget(1.0, x, new_variance=swept.line.residual_sd**2)
    told = say_estimate(estimate(swept.target, "Pa", u=one.u, dof=one.dof), sign=True)
    yield f"  a next lot there would have {told} (95 %)"


def _points(swept: Swept) -> Iterator[str]:
    sweep, scale = swept.sweep, swept.scale
    yield "What it rests on"
    heads = ("lot", sweep.parameter, "mean stress", "from the line")
    rows = [heads]
    means = say_column(sweep.stress.values, "Pa")
    off = say_column(swept.line.residuals, "Pa", 2, sign=True)
    settings = [scale.say(x) for x in sweep.settings]
    rows += zip(sweep.stress.labels, settings, means, off, strict=True)
    wide = [max(len(cells[i]) for cells in rows) for i in range(len(heads))]
    for cells in rows:
        yield "  " + "   ".join(c.ljust(w) for c, w in zip(cells, wide, strict=True)).rstrip()
    if sweep.without:
        many = "s" if sweep.without > 1 else ""
        yield f"  {sweep.without} lot{many} left out: no stress, or {sweep.parameter} not stated"
    if sweep.stress.again:
        yield from wrapped(f"{again_words(sweep.stress.again)} left out", "  ", WIDTH)
    if len(sweep.words) > 1:
        stated = " and ".join(word or "no unit" for word in sweep.words)
        told = f"lots state {sweep.parameter} in {stated}; --setting-unit chooses what is shown"
        yield from wrapped(told, "  ", WIDTH)


def _budget(swept: Swept) -> Iterator[str]:
    found = swept.setting or swept.zero
    if bounded(found):
        level = "0 MPa" if swept.target is None else say_value(swept.target, "Pa")
        yield f"What the uncertainty of the setting for {level} is made of"
        yield from share_lines(
            found.budget, "", size=lambda part, _, digits: swept.scale.say_step(part, digits)
        )


def doubts(swept: Swept) -> list[str]:
    """What speaks against the line, in sentences."""
    told = []
    checks = swept.checks
    if checks.bend is not None and checks.bend < _DOUBT:
        told.append(
            f"The points bend (p = {checks.bend:.2g}): take settings nearer to the one wanted."
        )
    if checks.lack_of_fit is not None and checks.lack_of_fit < _DOUBT:
        told.append(
            f"The means lie off the line by more than repeats scatter (p = "
            f"{checks.lack_of_fit:.2g}): something beside {swept.sweep.parameter} changed, or "
            "the relation is no line."
        )
    return told


def _crossing_data(found: Crossing | None, unit: str) -> Data | None:
    if found is None:
        return None
    return {
        "estimate": bare_data(found.x, unit),
        "set": found.set.kind.value,
        "ends": values_data([_nan(found.set.low), _nan(found.set.high)], unit),
        "bounded": bounded(found),
        "extrapolated": found.extrapolated,
        "coverage_probability": found.p,
        "budget": budget_data(found.budget),
    }


def _nan(value: float | None) -> float:
    return float("nan") if value is None else value


def sweep_data(swept: Swept, version: str) -> Data:
    """A sweep as one JSON object."""
    sweep, line = swept.sweep, swept.line
    level, slope = line.budget(1.0, 0.0), line.budget(0.0, 1.0)
    return {
        **headed("sweep", version),
        "selection": sweep.stress.name,
        "parameter": sweep.parameter,
        "lots": list(sweep.stress.labels),
        "entries": list(sweep.stress.entries),
        "lots_left_out": sweep.without,
        "recomputed_entries": list(sweep.stress.again),
        "settings": values_data(sweep.settings, sweep.unit),
        "stresses": values_data(sweep.stress.values, "Pa"),
        "line": {
            "centre": bare_data(line.centre, sweep.unit),
            "stress_at_centre": quantity_data(estimate(line.level, "Pa", u=level.u, dof=level.dof)),
            "slope": quantity_data(
                estimate(line.slope, f"Pa/{sweep.unit}", u=slope.u, dof=slope.dof)
            ),
            "scatter_of_lots": bare_data(line.residual_sd, "Pa"),
            "bend_p_value": number(swept.checks.bend),
            "lack_of_fit_p_value": number(swept.checks.lack_of_fit),
        },
        "zero_crossing": _crossing_data(swept.zero, sweep.unit),
        "target": bare_data(swept.target, "Pa"),
        "setting": _crossing_data(swept.setting, sweep.unit),
        "doubts": doubts(swept),
        "warnings": [],
    }
