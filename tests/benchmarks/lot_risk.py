"""How often a lot is decided wrongly, over lots drawn from a process.

    python -m tests.benchmarks.lot_risk --lots 10000

For each way that wafers' errors may hang together, lots are drawn whose wafers lie about a limit,
measured with a known uncertainty, and decided.  The rule promises that a wafer within an accepted
lot is outside its limits with a probability of at most 1 - confidence, whatever the process is
like; the lot's own stated consumer's risk must not be exceeded on average.  The producer's risk is
stated as if nothing were known of the process: where wafers are known to lie close together, it is
larger.
"""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from filmstress.lots.decision import conformance, decide_lot
from filmstress.lots.risk import lot_risk
from filmstress.lots.sample import sample_statement
from filmstress.lots.statistics import lot_statistics
from filmstress.records.lot import Sampling, Specification
from tests.lots.outcomes import MPA, lot, outcome, term

LOWER, UPPER, U = -250.0, -150.0, 8.0


@dataclass(frozen=True)
class Case:
    """A process and its measurement; all in MPa.

    ``shared`` is the part of the measurement's variance that all wafers of a lot have in common;
    ``flat`` draws lot means evenly over a range that reaches far beyond both limits, which is what
    a decision without knowledge of the process takes them to do.
    """

    name: str
    wafers: int
    shared: float
    process_sd: float
    flat: bool = True
    dof: float = math.inf
    upper_only: bool = False


CASES = (
    Case("one wafer, process unknown", 1, 0.0, 0.0),
    Case("one wafer, 4 degrees of freedom", 1, 0.0, 0.0, dof=4.0),
    Case("one wafer, one limit", 1, 0.0, 0.0, upper_only=True),
    Case("five wafers, all their own", 5, 0.0, 6.0),
    Case("five wafers, half shared", 5, 0.5, 6.0),
    Case("five wafers, nearly all shared", 5, 0.95, 6.0),
    Case("five wafers, steady process", 5, 0.5, 6.0, flat=False),
)


@dataclass(frozen=True)
class Found:
    """Shares of lots; ``wafer_out`` is of the wafers in accepted lots, the others of lots."""

    accepted: float
    rejected: float
    wafer_out: float
    lot_out: float
    stated: float
    stated_reject: float
    lot_good: float


def run(case: Case, *, lots: int, seed: int = 1, confidence: float = 0.95) -> Found:
    """Draw, measure and decide ``lots`` lots."""
    rng = np.random.default_rng(seed)
    specification = Specification(
        lower=None if case.upper_only else LOWER * MPA, upper=UPPER * MPA, confidence=confidence
    )
    accepted = rejected = out = bad = good = 0
    stated = stated_reject = 0.0
    for _ in range(lots):
        middle = rng.uniform(LOWER - 60.0, UPPER + 60.0) if case.flat else rng.normal(-200.0, 15.0)
        truth = middle + case.process_sd * rng.standard_normal(case.wafers)
        # u as found from the scan's own residuals: it scatters, and the value is off by u T.
        scale = np.ones(case.wafers)
        if math.isfinite(case.dof):
            scale = np.sqrt(rng.chisquare(case.dof, case.wafers) / case.dof)
        own = U * math.sqrt(1.0 - case.shared)
        common = U * math.sqrt(case.shared)
        measured = truth + own * rng.standard_normal(case.wafers) + common * rng.standard_normal()
        found = [
            outcome(
                f"{i:02}",
                float(value),
                term("curvature fit", own * float(s), dof=case.dof),
                term("substrate modulus", common, common_to="table Si"),
            )
            for i, (value, s) in enumerate(zip(measured, scale, strict=True))
        ]
        judged = [conformance(one, specification) for one in found]
        decision, _, _ = decide_lot(judged, [], lot(*found, specification=specification))
        outside = (truth > UPPER) | ((truth < LOWER) & (not case.upper_only))
        risk = lot_risk(judged, specification, decision)
        assert risk is not None
        if decision == "accepted":
            accepted += 1
            out += int(outside.sum())
            bad += bool(outside.any())
            stated += risk.consumer or 0.0
        elif decision == "rejected":
            rejected += 1
            good += not outside.any()
            stated_reject += risk.producer or 0.0
    return Found(
        accepted / lots,
        rejected / lots,
        out / max(accepted * case.wafers, 1),
        bad / max(accepted, 1),
        stated / max(accepted, 1),
        stated_reject / max(rejected, 1),
        good / max(rejected, 1),
    )


def accepted_at_the_limit(case: Case, *, lots: int, seed: int = 3) -> float:
    """How often a lot is accepted whose wafers all lie just beyond the upper limit.

    This is the worst that a process can do: at most 1 - confidence may be accepted, and with one
    wafer just that share is.
    """
    rng = np.random.default_rng(seed)
    specification = Specification(upper=UPPER * MPA)
    own, common = U * math.sqrt(1.0 - case.shared), U * math.sqrt(case.shared)
    accepted = 0
    for _ in range(lots):
        errors = own * rng.standard_normal(case.wafers) + common * rng.standard_normal()
        found = [
            outcome(f"{i:02}", UPPER + float(error), term("m", common, common_to="t"), u_mpa=own)
            for i, error in enumerate(errors)
        ]
        judged = [conformance(one, specification) for one in found]
        decision, _, _ = decide_lot(judged, [], lot(*found, specification=specification))
        accepted += decision == "accepted"
    return accepted / lots


def sample_shown(
    *, lots: int, wafers: int = 5, shared: float = 3.0, process_sd: float = 10.0, seed: int = 2
) -> float:
    """How often lots with just the rejectable share outside are shown to be good.

    The process lies so that exactly 90 % of its wafers are below the upper limit; the sampling
    asks for 90 % with confidence 95 %, so that at most 5 % may be shown to have it.
    """
    rng = np.random.default_rng(seed)
    specification = Specification(upper=UPPER * MPA, sampling=Sampling(0.9))
    middle = UPPER - process_sd * NormalDist().inv_cdf(0.9)
    shown = 0
    for _ in range(lots):
        truth = middle + process_sd * rng.standard_normal(wafers)
        values = truth + 1.0 * rng.standard_normal(wafers) + shared * rng.standard_normal()
        found = [
            outcome(f"{i:02}", float(value), term("m", shared, common_to="table"), u_mpa=1.0)
            for i, value in enumerate(values)
        ]
        sample = sample_statement(lot_statistics(found, specification), specification)
        assert sample is not None
        assert sample.reached is not None
        shown += sample.reached >= 0.95
    return shown / lots


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lots", type=int, default=10_000)
    lots = parser.parse_args().lots
    print(
        f"{'':36}{'accepted':>9}{'rejected':>9}{'a wafer':>9}{'a lot':>8}{'stated':>8}"
        f"{'good':>8}{'stated':>8}"
    )
    print(f"{'':36}{'':9}{'':9}{'out of accepted ones':>26}{'of rejected':>15}")
    for case in CASES:
        found = run(case, lots=lots)
        print(
            f"{case.name:36}{found.accepted:9.3f}{found.rejected:9.3f}{found.wafer_out:9.4f}"
            f"{found.lot_out:8.4f}{found.stated:8.4f}{found.lot_good:8.4f}"
            f"{found.stated_reject:8.4f}"
        )
    print("lots accepted whose wafers all lie just beyond a limit (at most 0.05)")
    for case in CASES[:1] + CASES[3:6]:
        print(f"  {case.name:34}{accepted_at_the_limit(case, lots=lots):9.4f}")
    print(f"samples that show what is not so (at most 0.05): {sample_shown(lots=lots):.4f}")


if __name__ == "__main__":
    main()
