"""A study of a gauge for readers: in words."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from filmstress.inputs.study import Study
from filmstress.report.columns import columns
from filmstress.report.text import WIDTH, row, wrapped
from filmstress.report.words import printable, say_plus_minus, say_value
from filmstress.stats.variance_components.gauge_records import Bounded, GaugeStudy
from filmstress.stats.variance_components.records import Component, Method

_LONGEST = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A study and what it says of the gauge.

    Attributes
    ----------
    study : Study
    found : GaugeStudy
    tolerance : float or None
        Upper less lower limit of what is measured [unit of the study].
    tolerance_from : str
        Who stated it, in words; empty for the user.
    """

    study: Study
    found: GaugeStudy
    tolerance: float | None = None
    tolerance_from: str = ""

    @property
    def of_tolerance(self) -> Bounded | None:
        """Six standard deviations of the gauge over the tolerance [%]."""
        return None if self.tolerance is None else self.found.of_tolerance(self.tolerance)

    @property
    def between(self) -> dict[str, Component]:
        """What the measurement adds between repeats, by name."""
        one = self.study.between
        named = {
            f"{one}s (reproducibility)": self.found.reproducibility,
            f"wafers x {one}s": self.found.interaction,
        }
        return {name: component for name, component in named.items() if component is not None}

    @property
    def components(self) -> dict[str, Component]:
        """Every component by name, the gauge first and what it is made of below."""
        every = {"gauge": self.found.gauge, "repeatability": self.found.repeatability}
        every |= self.between
        return every if self.found.part is None else every | {"wafers": self.found.part}


def gauge_text(judged: Judged) -> str:
    """Everything about a study, for people."""
    blocks = [list(_head(judged)), list(_table(judged)), list(_remarks(judged))]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def headline(judged: Judged) -> str:
    """How well one reading repeats."""
    sd = say_value(judged.found.gauge.sd, judged.study.unit, 2)
    return f"One reading of the {printable(judged.study.reading, _LONGEST)} repeats to {sd}"


def interval_words(one: Component, unit: str) -> str:
    """The interval of a component's standard deviation."""
    low, high = ends_of(one)
    top = say_value(high, unit, 2) if math.isfinite(high) else "no upper end"
    return f"{say_value(low, unit, 2) if low else '0'} to {top}"


def ends_of(one: Component) -> tuple[float, float]:
    """Interval of a component's standard deviation."""
    return math.sqrt(one.low), math.sqrt(one.high)


def repeatability_words(judged: Judged) -> str | None:
    """The setting that this study makes, as a lot file takes it; None where it read no bow.

    The ± on it is the doubt that the degrees of freedom leave (JCGM 100:2008, G.3).
    """
    gauge = judged.found.gauge
    if judged.study.unit != "m" or not gauge.dof > 0.0:
        return None
    doubt = gauge.sd / math.sqrt(2.0 * max(gauge.dof, 1.0))
    return f'bow_repeatability = "{say_plus_minus(gauge.sd, doubt, "m")}"'


def _head(judged: Judged) -> Iterator[str]:
    found, unit = judged.found, judged.study.unit
    yield headline(judged)
    told = interval_words(found.gauge, unit)
    yield f"  standard deviation, re-measured on one wafer; 95 %: {told}"
    if (length := judged.study.readings.length) is not None:
        yield row("bow over", say_value(length, "m"), "the length that all scans have")
    if (share := found.of_total) is not None:
        between = f"95 %: {share.low:.1f} % to {share.high:.1f} %"
        yield row("gauge of the total (%GRR)", f"{share.value:.1f} %", between)
        yield row("wafers told apart (ndc)", str(found.categories), "distinct categories")
    used = judged.of_tolerance
    if used is not None and judged.tolerance is not None:
        wide = say_value(judged.tolerance, unit)
        note = f"6 s of {wide}; 95 %: {used.low:.1f} % to {used.high:.1f} %"
        yield row("gauge of the tolerance", f"{used.value:.1f} %", note)
        if judged.tolerance_from:
            yield row("", f"limits: {judged.tolerance_from}")
    setting = repeatability_words(judged)
    if setting is not None:
        yield row("state in the lot file", setting)


def _table(judged: Judged) -> Iterator[str]:
    found, unit = judged.found, judged.study.unit
    yield from wrapped(design_words(judged.study), "Where it comes from: ", WIDTH)
    last = "of the total" if found.part is not None else "of the gauge"
    rows = [("", "standard deviation", "95 %", last)]
    for name, one in judged.components.items():
        shown = name if name in {"gauge", "wafers"} else f"  {name}"
        if name == "repeatability" and not judged.between:
            shown += " (all of it)"
        rows.append((shown, *_cells(one, unit, found.total.sd)))
    yield from columns(rows)


def _cells(one: Component, unit: str, total: float) -> tuple[str, str, str]:
    if one.variance == 0.0:
        return "0", interval_words(one, unit) if one.high else "", "0 %"
    return (
        say_value(one.sd, unit, 2),
        interval_words(one, unit),
        f"{100.0 * one.sd / total:.1f} %",
    )


def design_words(study: Study) -> str:
    """How many of what was read how often."""
    cells = study.cells
    under = Counter(wafer for wafer, _ in cells)
    told = [_counted("wafer", len(under))]
    if study.between:
        one = printable(study.between, _LONGEST)
        if study.crossed:
            told.append(f"{len(set(study.others))} {one}s the same for all wafers")
        else:
            told.append(f"{_span(under.values())} {one}s of each wafer")
    counts = _span(cells.values())
    told.append(f"{counts} reading{'' if counts == '1' else 's'} each")
    words = ", ".join(told)
    gaps = len(under) * len(set(study.others)) - len(cells) if study.crossed else 0
    return f"{words}, {_counted('combination', gaps)} without one" if gaps else words


def _counted(noun: str, count: int) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _span(counts: Iterable[int]) -> str:
    numbers = sorted(set(counts))
    return f"{numbers[0]}" if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}"


def remarks(judged: Judged) -> Iterator[str]:
    """What a reader must know beside the numbers, in sentences."""
    found, study = judged.found, judged.study
    one = printable(study.between, _LONGEST)
    if found.method is Method.REML:
        yield (
            "The study is not balanced: its components are those of greatest restricted "
            "likelihood (REML)."
        )
    if found.pooled and found.interaction_p is not None:
        yield (
            f"{one.capitalize()}s do not differ from wafer to wafer beyond chance "
            f"(p = {found.interaction_p:.2g}): that part was taken as repeatability."
        )
    if found.inseparable:
        yield (
            f"What differs between {one}s from wafer to wafer cannot be told from chance here, "
            "and is in the repeatability."
        )
    if found.reproducibility is not None and study.crossed and len(set(study.others)) < 5:
        yield f"{len(set(study.others))} {one}s say little of {one}s in general: see the interval."
    for name in study.varying:
        told = printable(name, _LONGEST)
        yield (
            f"The {told} varies between readings of a wafer, too, and is not told apart; "
            f"--between {told} studies it."
        )
    for name, component in judged.components.items():
        if component.negative:
            yield (
                f"Of {name} the readings show no variance (the estimate is below 0): taken as 0."
            )
    yield from study.readings.remarks
    if found.part is None:
        yield "One wafer says how the gauge repeats, not whether it tells wafers apart."
    else:
        yield (
            "%GRR and the categories hold for wafers that spread as those of the study; below 10 % "
            "a gauge is usually taken as good, above 30 % as unfit (common practice, no source)."
        )


def _remarks(judged: Judged) -> Iterator[str]:
    for told in remarks(judged):
        yield from wrapped(told, "", WIDTH)
