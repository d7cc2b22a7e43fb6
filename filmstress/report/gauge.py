"""A study of a gauge for readers: words and JSON."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from filmstress.inputs.study import Study
from filmstress.report.columns import columns
from filmstress.report.quantities import Data, bare_data, headed, number
from filmstress.report.text import WIDTH, row, wrapped
from filmstress.report.words import display_unit, say_number, say_value
from filmstress.stats.variance_components.gauge_study import GaugeStudy
from filmstress.stats.variance_components.records import Component


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A study and what it says of the gauge.

    Attributes
    ----------
    path : str
    study : Study
    found : GaugeStudy
    tolerance : float or None
        Upper less lower limit of what is measured [unit of the study].
    """

    path: str
    study: Study
    found: GaugeStudy
    tolerance: float | None = None

    @property
    def tolerance_share(self) -> float | None:
        """Six standard deviations of the gauge over the tolerance."""
        if self.tolerance is None:
            return None
        return 0.01 * self.found.of_tolerance(self.tolerance).value

    @property
    def between(self) -> dict[str, Component]:
        """What the measurement adds between repeats, by name."""
        one = self.study.between
        named = {
            f"{one}s (reproducibility)": self.found.reproducibility,
            f"wafers x {one}s": self.found.interaction,
        }
        return {name: component for name, component in named.items() if component is not None}


def gauge_text(judged: Judged) -> str:
    """Everything about a study, for people."""
    blocks = [list(_head(judged)), list(_table(judged)), list(_remarks(judged))]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def repeatability_words(judged: Judged) -> str | None:
    """The setting that this study makes, as a lot file takes it; None where it read no bow."""
    if judged.study.dimension != "length":
        return None
    word, scale = display_unit(judged.found.gauge.sd, "m")
    return f'bow_repeatability = "{say_number(judged.found.gauge.sd, 2, scale)} {word}"'


def _head(judged: Judged) -> Iterator[str]:
    found, unit = judged.found, judged.study.unit
    low, high = _ends(found.gauge)
    sd = say_value(found.gauge.sd, unit, 2)
    yield f"One reading of the {judged.study.reading} repeats to {sd}"
    told = f"{say_value(low, unit, 2)} to "
    told += say_value(high, unit, 2) if math.isfinite(high) else "no upper end"
    yield f"  standard deviation, re-measured on one wafer; 95 %: {told}"
    share = found.of_total
    between = f"95 %: {share.low:.1f} % to {share.high:.1f} %"
    yield row("gauge of the total (%GRR)", f"{share.value:.1f} %", between)
    yield row("wafers told apart (ndc)", str(found.categories), "distinct categories")
    of_tolerance = judged.tolerance_share
    if of_tolerance is not None and judged.tolerance is not None:
        wide = say_value(judged.tolerance, unit)
        yield row("gauge of the tolerance", f"{100.0 * of_tolerance:.1f} %", f"6 s of {wide}")
    setting = repeatability_words(judged)
    if setting is not None:
        yield row("state in the lot file", setting)


def _table(judged: Judged) -> Iterator[str]:
    found, unit = judged.found, judged.study.unit
    yield f"Where it comes from: {_design(judged.study)}"
    heads = ("", "standard deviation", "95 %", "of the total")
    rows = [heads]
    entries = [("gauge", found.gauge), (_repeats(judged.study), found.repeatability)]
    entries += [(f"  {name}", one) for name, one in judged.between.items()]
    entries.append(("wafers", found.part))
    for name, one in entries:
        rows.append((name, *_cells(one, unit, found.total.sd)))
    yield from columns(rows)


def _cells(one: Component, unit: str, total: float) -> tuple[str, str, str]:
    if one.variance == 0.0:
        return "0", "", "0 %"
    low, high = _ends(one)
    ends = f"{say_value(low, unit, 2)} to {say_value(high, unit, 2)}"
    return say_value(one.sd, unit, 2), ends, f"{100.0 * one.sd / total:.1f} %"


def _design(study: Study) -> str:
    shape = study.values.shape
    if not study.between:
        return f"{shape[0]} wafers, {shape[1]} readings each"
    how = "the same for all wafers" if study.crossed else "of each wafer"
    return f"{shape[0]} wafers, {shape[1]} {study.between}s {how}, {shape[2]} readings each"


def _repeats(study: Study) -> str:
    return "  repeatability" if study.between else "  repeatability (all of it)"


def _ends(one: Component) -> tuple[float, float]:
    """Interval of a component's standard deviation."""
    return math.sqrt(one.low), math.sqrt(one.high)


def _remarks(judged: Judged) -> Iterator[str]:
    found = judged.found
    if found.pooled and found.interaction_p is not None:
        yield from wrapped(
            f"{judged.study.between.capitalize()}s do not differ from wafer to wafer beyond chance "
            f"(p = {found.interaction_p:.2g}): that part was taken as repeatability.",
            "",
            WIDTH,
        )
    for name, one in (("wafers", found.part), *judged.between.items()):
        if one.negative:
            yield from wrapped(
                f"Of {name} the readings show no variance (the estimate is below 0): taken as 0.",
                "",
                WIDTH,
            )
    yield from wrapped(
        "%GRR and the categories hold for wafers that spread as those of the study; below 10 % a "
        "gauge is usually taken as good, above 30 % as unfit (common practice, no source).",
        "",
        WIDTH,
    )


def _component_data(one: Component, unit: str) -> Data:
    low, high = _ends(one)
    return {
        "standard_deviation": bare_data(one.sd, unit or "1"),
        "interval": [number(low), number(high)],
        "degrees_of_freedom": number(one.dof),
        "below_zero": one.negative,
    }


def gauge_data(judged: Judged, version: str) -> Data:
    """A study as one JSON object."""
    found, study = judged.found, judged.study
    unit = study.unit
    return {
        **headed("gauge", version),
        "file": judged.path,
        "reading": study.reading,
        "between": study.between or None,
        "crossed": study.crossed,
        "shape": list(study.values.shape),
        "gauge": _component_data(found.gauge, unit),
        "repeatability": _component_data(found.repeatability, unit),
        "between_components": {
            name: _component_data(one, unit) for name, one in judged.between.items()
        },
        "wafers": _component_data(found.part, unit),
        "total": bare_data(found.total.sd, unit or "1"),
        "gauge_share": number(0.01 * found.of_total.value),
        "gauge_share_interval": [
            number(0.01 * found.of_total.low),
            number(0.01 * found.of_total.high),
        ],
        "distinct_categories": found.categories,
        "tolerance": bare_data(judged.tolerance, unit or "1"),
        "tolerance_share": number(judged.tolerance_share),
        "interaction_p_value": number(found.interaction_p),
        "interaction_pooled": found.pooled,
        "bow_repeatability": bare_data(found.gauge.sd, "m") if study.unit == "m" else None,
        "anova": [
            {
                "source": one.source,
                "sum_of_squares": number(one.sum_of_squares),
                "degrees_of_freedom": one.dof,
                "mean_square": number(one.mean_square),
            }
            for one in found.table
        ],
        "warnings": [],
    }
