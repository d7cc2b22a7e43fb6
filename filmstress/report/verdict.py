"""What became of one wafer of a lot, in one word."""

from __future__ import annotations

from enum import StrEnum

from filmstress.records.lot import Specification, WaferOutcome
from filmstress.stats.conformance import Decision, decide


class Verdict(StrEnum):
    """One word for a wafer; the words are those that a reader sees."""

    WITHIN = "within the limits"
    UNDECIDED = "undecided"
    OUTSIDE = "outside the limits"
    REFUSED = "refused"
    WITNESS = "witness"
    NOT_JUDGED = "not judged"


_OF_DECISION = {
    Decision.ACCEPTED: Verdict.WITHIN,
    Decision.REJECTED: Verdict.OUTSIDE,
    Decision.UNDECIDED: Verdict.UNDECIDED,
}


def verdict(outcome: WaferOutcome, specification: Specification | None) -> Verdict:
    """What became of a wafer, by the probability that it conforms to the lot's limits."""
    if outcome.refusal is not None or outcome.result is None:
        return Verdict.REFUSED
    if outcome.is_witness:
        return Verdict.WITNESS
    probability = outcome.conformance_probability
    if specification is None or probability is None:
        return Verdict.NOT_JUDGED
    return _OF_DECISION[decide(probability, specification.confidence)]
