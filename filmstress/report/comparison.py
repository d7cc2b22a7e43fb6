"""A comparison of selections of the history for readers: words, JSON and a table."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from filmstress.records.budget import Budget
from filmstress.records.comparison import Selected
from filmstress.records.quantity import Estimate
from filmstress.report.budget_data import budget_data
from filmstress.report.quantities import Data, bare_data, headed, number, quantity_data, values_data
from filmstress.report.text import WIDTH, row, wrapped
from filmstress.report.words import (
    again_words,
    say_coverage,
    say_ends,
    say_estimate,
    say_number,
    say_value,
)
from filmstress.stats.comparison import Difference, Equivalence, Ratio, SpreadRatio, Verdict
from filmstress.stats.coverage import estimate
from filmstress.stats.fieller import SetKind
from filmstress.stats.multiple_comparison import AllPairs, PairDifference
from filmstress.stats.rounding import round_pair

PAIR_HEADS = (
    "first",
    "second",
    "difference [Pa]",
    "standard_uncertainty [Pa]",
    "degrees_of_freedom",
    "interval_low [Pa]",
    "interval_high [Pa]",
    "p_value",
    "within_margin",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """Everything found about two selections or more.

    Attributes
    ----------
    selections : tuple of Selected
        In the order they were named.
    difference : Difference or None
        First less second [Pa], where there are two.
    equivalence : Equivalence or None
        Where a margin was stated for two.
    ratio : Ratio or None
    spreads : SpreadRatio or None
        None where a selection does not scatter, or has a single value.
    pairs : AllPairs or None
        Where there are more than two.
    margin : float or None
        [Pa].
    """

    selections: tuple[Selected, ...]
    difference: Difference | None = None
    equivalence: Equivalence | None = None
    ratio: Ratio | None = None
    spreads: SpreadRatio | None = None
    pairs: AllPairs | None = None
    margin: float | None = None

    @property
    def differences(self) -> tuple[PairDifference, ...]:
        """Every pair; for two selections their one difference."""
        if self.pairs is not None:
            return self.pairs.pairs
        one, (first, second) = self.difference, self.selections
        assert one is not None
        ends = (one.value, one.u, one.dof, one.low, one.high, one.p_value)
        return (PairDifference(first.name, second.name, *ends),)


def sense(compared: Compared, pair: PairDifference) -> tuple[str, str]:
    """What a positive and what a negative difference mean, in the words of the trade."""
    means = {one.name: _mean(one) for one in compared.selections}
    first, second = means[pair.first], means[pair.second]
    if first < 0.0 and second < 0.0:
        return "less compressive", "more compressive"
    if first > 0.0 and second > 0.0:
        return "more tensile", "less tensile"
    return "farther toward tension", "farther toward compression"


def finding(compared: Compared, pair: PairDifference) -> str:
    """What one difference says, in a plain sentence."""
    above, below = sense(compared, pair)
    if pair.low <= 0.0 <= pair.high:
        most, least = _sizes(pair, pair.high, pair.low)
        return (
            f"No difference is shown: {pair.first} may be up to {most} MPa {above} than "
            f"{pair.second}, or up to {least} MPa {below}."
        )
    near, far = _sizes(pair, *sorted((pair.low, pair.high), key=abs))
    word = above if pair.value > 0.0 else below
    return f"{pair.first} is {word} than {pair.second}, by {near} to {far} MPa."


def equivalence_words(compared: Compared, pair: PairDifference) -> str:
    """Whether a difference is within the margin; for two selections by two one-sided tests."""
    assert compared.margin is not None
    within = f"within ± {say_value(compared.margin, 'Pa')}"
    told = {
        Verdict.EQUIVALENT: f"equivalent {within}",
        Verdict.NOT_EQUIVALENT: f"not equivalent {within}",
        Verdict.UNDECIDED: f"undecided: these lots cannot tell whether they are {within}",
    }
    if compared.selections[0].per == "wafer":
        told[Verdict.UNDECIDED] = told[Verdict.UNDECIDED].replace("lots", "wafers")
    return told[_verdict(compared, pair)]


def _verdict(compared: Compared, pair: PairDifference) -> Verdict:
    if compared.equivalence is not None:
        return compared.equivalence.verdict
    margin = compared.margin or 0.0
    # Among many pairs the intervals that hold all at once decide: surer than each test alone.
    if -margin < pair.low and pair.high < margin:
        return Verdict.EQUIVALENT
    apart = pair.low > margin or pair.high < -margin
    return Verdict.NOT_EQUIVALENT if apart else Verdict.UNDECIDED


def comparison_text(compared: Compared) -> str:
    """Everything about a comparison, for people."""
    blocks = [
        list(_two(compared) if compared.pairs is None else _many(compared)),
        list(_table(compared.selections)),
        list(_more(compared)),
        list(_budget(compared)),
        list(_cautions(compared)),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _two(compared: Compared) -> Iterator[str]:
    found = compared.difference
    assert found is not None
    (pair,) = compared.differences
    told = difference_estimate(found)
    yield f"{pair.first} less {pair.second}  {say_estimate(told, sign=True)}"
    yield f"  {say_coverage(told)}; tension is positive"
    yield from wrapped(finding(compared, pair), "  ", WIDTH)
    test = compared.equivalence
    if test is not None:
        ends = " to ".join(say_ends(test.low, test.high, test.high - test.low, "Pa"))
        yield from wrapped(
            f"{equivalence_words(compared, pair)} (two one-sided tests at "
            f"{100.0 * test.alpha:.3g} %: {ends}; the smallest margin that would pass is "
            f"{say_value(test.smallest_margin, 'Pa', 3)})",
            "  ",
            WIDTH,
        )


def difference_estimate(found: Difference) -> Estimate:
    """A difference as a quantity, with the factor of its degrees of freedom as they are."""
    half = found.high - found.value
    told = estimate(found.value, "Pa", u=found.u, dof=found.dof, p=found.p)
    return replace(told, k=half / found.u, low=found.low, high=found.high, dof=found.dof)


def _many(compared: Compared) -> Iterator[str]:
    pairs = compared.pairs
    assert pairs is not None
    yield "Differences of the mean stress; tension is positive"
    yield from wrapped(
        f"the {100.0 * pairs.p:.3g} % intervals hold all at once ({pairs.method})", "  ", WIDTH
    )
    for pair in pairs.pairs:
        low, high = say_ends(pair.low, pair.high, pair.high - pair.low, "Pa")
        yield ""
        yield row(f"  {pair.first} less {pair.second}", f"{low} to {high}")
        yield from wrapped(finding(compared, pair), "    ", WIDTH)
        if compared.margin is not None:
            yield from wrapped(equivalence_words(compared, pair), "    ", WIDTH)


def _table(selections: Sequence[Selected]) -> Iterator[str]:
    per_lot = selections[0].per == "lot"
    yield "What was compared"
    spread = "spread of lots" if per_lot else "spread of wafers"
    heads = ("", "lots", "wafers", "mean stress", spread)
    rows = [heads]
    for one in selections:
        sd = _sd(one)
        rows.append(
            (
                one.name,
                str(len(one.entries)),
                str(one.wafers),
                say_value(_mean(one), "Pa"),
                say_value(sd, "Pa", 2) if math.isfinite(sd) else "not known",
            )
        )
    wide = [max(len(cells[i]) for cells in rows) for i in range(len(heads))]
    for cells in rows:
        yield "  " + "   ".join(c.ljust(w) for c, w in zip(cells, wide, strict=True)).rstrip()
    left = sum(one.without for one in selections)
    if left:
        yield f"  {left} wafer{'s' if left > 1 else ''} without a stress left out"
    if again := sorted({entry for one in selections for entry in one.again}):
        yield from wrapped(f"{again_words(again)} left out", "  ", WIDTH)


def _more(compared: Compared) -> Iterator[str]:
    ratio, spreads = compared.ratio, compared.spreads
    if ratio is not None:
        yield row("ratio of the means", ratio_words(ratio))
    if spreads is not None:
        low, high = (say_number(end, 3) for end in (spreads.low, spreads.high))
        told = "which may be 1" if spreads.low <= 1.0 <= spreads.high else "which is not 1"
        yield row(
            "ratio of the spreads", f"{say_number(spreads.value, 3)}  ({low} to {high})", told
        )


def ratio_words(ratio: Ratio) -> str:
    """A ratio of means with its set, which need not be an interval."""
    told = say_number(ratio.value, 4).replace("-", "−")
    ends = [None if e is None else say_number(e, 4).replace("-", "−") for e in _ends(ratio)]
    if ratio.set.kind is SetKind.INTERVAL and None not in ends:
        return f"{told}  ({ends[0]} to {ends[1]})"
    return f"{told}, and it cannot be bounded: the second mean may be 0"


def _ends(ratio: Ratio) -> tuple[float | None, float | None]:
    return ratio.set.low, ratio.set.high


def _budget(compared: Compared) -> Iterator[str]:
    found = compared.difference
    if found is None:
        return
    yield "What the uncertainty of the difference is made of"
    yield from share_lines(found.budget, "Pa")
    shared = math.hypot(*(r.term.contribution for r in found.budget.rows if r.term.common_to))
    if found.shared_before > 0.0:
        left = "cancels" if shared < 1e-6 * found.u else f"brings {say_value(shared, 'Pa', 2)}"
        yield from wrapped(
            f"What several of them share ({', '.join(_shared_names(found))}) {left}; taken as "
            f"independent it would have brought {say_value(found.shared_before, 'Pa', 2)}.",
            "  ",
            WIDTH,
        )


def share_lines(
    budget: Budget, unit: str, size: Callable[[float, str, int], str] = say_value
) -> Iterator[str]:
    """Contribution and share of every input that counts."""
    for entry in budget.rows:
        if abs(entry.share) < 0.005:
            continue
        common = entry.term.common_to.partition(",")[0]
        name = f"{entry.term.input}, {common}" if common else entry.term.input
        part = size(entry.term.contribution, unit, 2)
        yield f"  {name:<44}  {part:<12}{100.0 * entry.share:.0f} %"


def _shared_names(found: Difference) -> list[str]:
    names = {entry.term.common_to.partition(",")[0] for entry in found.budget.rows}
    return sorted(names - {""})


def _cautions(compared: Compared) -> Iterator[str]:
    if compared.selections[0].per == "wafer":
        yield from wrapped(
            "Single lots are compared, by how their wafers scatter: that says nothing of other "
            "lots of their recipes. A recipe is judged from two lots of it or more.",
            "",
            WIDTH,
        )
    if compared.margin is None and any(p.low <= 0.0 <= p.high for p in compared.differences):
        yield from wrapped(
            'No difference shown is no proof of equality: --margin "20 MPa" tests for it, with the '
            "largest difference that does not matter.",
            "",
            WIDTH,
        )


def comparison_data(compared: Compared, version: str) -> Data:
    """A comparison as one JSON object."""
    p = compared.pairs.p if compared.pairs else compared.difference.p if compared.difference else 0
    found, ratio, spreads, test = (
        compared.difference,
        compared.ratio,
        compared.spreads,
        compared.equivalence,
    )
    return {
        **headed("compare", version),
        "selections": [
            {
                "name": one.name,
                "values_are": "means of lots" if one.per == "lot" else "wafers",
                "entries": list(one.entries),
                "wafers": one.wafers,
                "wafers_without_stress": one.without,
                "recomputed_entries": list(one.again),
                "labels": list(one.labels),
                "stresses": values_data(one.values, "Pa"),
                "mean": bare_data(_mean(one), "Pa"),
                "spread": bare_data(_sd(one), "Pa"),
            }
            for one in compared.selections
        ],
        "method": compared.pairs.method if compared.pairs else "Welch",
        "coverage_probability": p,
        "margin": bare_data(compared.margin, "Pa"),
        "differences": [
            {
                "first": pair.first,
                "second": pair.second,
                "value": number(pair.value),
                "unit": "Pa",
                "standard_uncertainty": number(pair.u),
                "degrees_of_freedom": number(pair.dof),
                "interval": [number(pair.low), number(pair.high)],
                "p_value": number(pair.p_value),
                "verdict": None if compared.margin is None else _verdict(compared, pair).value,
                "finding": finding(compared, pair),
            }
            for pair in compared.differences
        ],
        "difference": None if found is None else quantity_data(difference_estimate(found)),
        "shared_if_independent": None if found is None else bare_data(found.shared_before, "Pa"),
        "equivalence": None
        if test is None
        else {
            "alpha": test.alpha,
            "interval": values_data((test.low, test.high), "Pa"),
            "p_values": [number(test.p_low), number(test.p_high)],
            "smallest_margin": bare_data(test.smallest_margin, "Pa"),
        },
        "ratio": None
        if ratio is None
        else {
            "value": number(ratio.value),
            "set": ratio.set.kind.value,
            "interval": [number(ratio.set.low), number(ratio.set.high)],
        },
        "ratio_of_spreads": None
        if spreads is None
        else {
            "value": number(spreads.value),
            "interval": [number(spreads.low), number(spreads.high)],
            "p_value": number(spreads.p_value),
        },
        "budget": [] if found is None else budget_data(found.budget),
        "warnings": [],
    }


def pair_rows(compared: Compared) -> Iterator[tuple[object, ...]]:
    """One row a pair under `PAIR_HEADS`."""
    for pair in compared.differences:
        yield (
            pair.first,
            pair.second,
            pair.value,
            pair.u,
            number(pair.dof),
            pair.low,
            pair.high,
            pair.p_value,
            None if compared.margin is None else _verdict(compared, pair).value,
        )


def _sizes(pair: PairDifference, *ends: float) -> tuple[str, str]:
    """Sizes of two ends [MPa], to the digits that their distance leaves them."""
    width = pair.high - pair.low
    first, second = (round_pair(abs(end), width, scale=1e6)[0] for end in ends)
    return first, second


def _mean(one: Selected) -> float:
    return sum(one.values) / len(one.values)


def _sd(one: Selected) -> float:
    if len(one.values) < 2:
        return math.nan
    mean = _mean(one)
    return math.sqrt(sum((v - mean) ** 2 for v in one.values) / (len(one.values) - 1))
