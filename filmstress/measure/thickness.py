"""Film thickness from steps: scans read, steps evaluated, and their mean with its budget."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import MeasurementRefused, RefusedInput, UsageError
from filmstress.inputs.request import height_scale as stated_height_scale
from filmstress.records.budget import Term
from filmstress.records.notice import Notice, RefusalCode, WarningCode
from filmstress.records.quantity import Measured, Shape, Source
from filmstress.records.scan import ReadingOptions, Scan
from filmstress.records.step import FilmThickness, Reference, StepKind, SteppedScan
from filmstress.scans.reading.numerals import counted
from filmstress.scans.reading.scan_file import read_scan
from filmstress.scans.remarks import MASKED_SHARE_LIMIT
from filmstress.scans.step import find_steps
from filmstress.stats.averaging import Setting
from filmstress.stats.budget import combine, term
from filmstress.stats.coverage import estimate, t_factor, whole_dof
from filmstress.units.say import readable

# A scan over a step may be much shorter than one over a wafer.
LEAST_LENGTH_M = 20e-6
_NOTHING_STATED = ReadingOptions()


def measure_thickness(
    paths: Sequence[str],
    *,
    height_scale: Measured | None = None,
    options: ReadingOptions = _NOTHING_STATED,
    reference: Reference = Reference.LOW,
    edges_m: Sequence[float] = (),
    straight: bool = False,
    setting: Setting | str = Setting.BALANCED,
) -> FilmThickness:
    """Thickness of a film from scans over its steps.

    Parameters
    ----------
    paths : sequence of str
        Files, one or more; every step of each is used.
    height_scale : Measured, optional
        Value 1, with the relative uncertainty of the heights' scale; the default where not stated.
    options : ReadingOptions
        What the files leave open.
    reference : Reference
        Which side of a step is the substrate.
    edges_m : sequence of float
        Where the edges lie in every file [m]; none: they are looked for.
    straight : bool
        Level by a straight line, as ISO 5436-1 does, in place of a parabola.
    setting : Setting or str
        Of the noise model.

    Returns
    -------
    FilmThickness
        The mean over the files of the mean of each one's steps.

    Raises
    ------
    ScanError
        A file cannot be read.
    MeasurementRefused
        A file holds no step to be told from its noise.
    RefusedInput
        One file stands twice, or edges cannot be used.
    UsageError
        No file is named.
    """
    if not paths:
        raise UsageError("no scan over a step is named", hint="name one file or more")
    scale = height_scale or stated_height_scale(None)
    scans = [read_scan(path, options, least_length_m=LEAST_LENGTH_M) for path in paths]
    _check_different(scans)
    found = [
        find_steps(scan, reference=reference, edges=edges_m, straight=straight, setting=setting)
        for scan in scans
    ]
    means = [float(np.mean([step.thickness for step in one.steps])) for one in found]
    mean = float(np.mean(means))
    terms = [
        _own_noise(found, mean),
        *_between_steps(found, mean),
        *_between_files(found, means, mean),
        *([_left_out_bow(found, mean)] if straight else []),
        *_digits(found),
        term("height scale", scale, mean, common_to="gauge"),
    ]
    budget = combine(terms)
    thickness = estimate(mean, "m", u=budget.u, dof=budget.dof)
    if thickness.holds_zero:
        raise MeasurementRefused(
            f"the thickness, {readable(mean, 'length')} ± "
            f"{readable(thickness.expanded or 0.0, 'length', 2)}, cannot be told from zero",
            where=", ".join(paths),
            code=RefusalCode.NO_STEP,
            hint="repeat the scans over more steps",
        )
    return FilmThickness(
        thickness=thickness,
        scans=tuple(found),
        budget=budget,
        reference=reference,
        straight=straight,
        height_scale=scale,
        warnings=tuple(_warnings(found, scale)),
        noise_setting=Setting(setting).value,
    )


def _check_different(scans: Sequence[Scan]) -> None:
    """The same bytes twice are no repeat."""
    seen: dict[str, str] = {}
    for scan in scans:
        path, sha256 = scan.source.path, scan.source.sha256
        if sha256 in seen:
            raise RefusedInput(
                f"holds the very bytes of {seen[sha256]}",
                where=path,
                hint="a repeat is a scan of its own: name every file once",
            )
        seen[sha256] = path


def _own_noise(found: Sequence[SteppedScan], mean: float) -> Term:
    """What the residuals of all steps say of the mean."""
    parts = [
        (step.u / (len(found) * len(one.steps)), step.dof) for one in found for step in one.steps
    ]
    variance = math.fsum(u**2 for u, _ in parts)
    lost = math.fsum(u**4 / dof for u, dof in parts)
    dof = variance**2 / lost if lost > 0.0 else math.inf
    shared = math.fsum(_in_common(one) for one in found) / len(found) ** 2
    return _scatter("noise and roughness", mean, variance + shared, dof)


def _in_common(one: SteppedScan) -> float:
    """What neighbours that are levelled on the same film add to the variance of their mean [m^2].

    One of the two sides each is levelled on is the same: at most half of their noise.
    """
    total = 0.0
    for step, after in itertools.pairwise(one.steps):
        if step.parts[-1].high > after.parts[0].low:
            total += 2.0 * 0.5 * step.u * after.u
    return total / len(one.steps) ** 2


def _between_steps(found: Sequence[SteppedScan], mean: float) -> Iterator[Term]:
    """Scatter between the steps of one file beyond what their residuals say."""
    free = _free(found)
    if free:
        share = math.fsum(1.0 / len(one.steps) for one in found) / len(found) ** 2
        yield from _beyond("between steps", mean, (_within(found), _own(found), free), share)


def _between_files(
    found: Sequence[SteppedScan], means: Sequence[float], mean: float
) -> Iterator[Term]:
    """Scatter between files beyond what each one's steps say of its mean."""
    if len(found) < 2:
        return
    observed = float(np.var(means, ddof=1))
    step_variance = max(_within(found), _own(found))
    each = step_variance * math.fsum(1.0 / len(one.steps) for one in found) / len(found)
    yield from _beyond("between files", mean, (observed, each, len(found) - 1), 1.0 / len(found))


def _free(found: Sequence[SteppedScan]) -> int:
    return sum(len(one.steps) - 1 for one in found)


def _own(found: Sequence[SteppedScan]) -> float:
    """Mean variance of a step by its residuals [m^2]."""
    return float(np.mean([step.u**2 for one in found for step in one.steps]))


def _within(found: Sequence[SteppedScan]) -> float:
    """Variance between the steps of one file, all files together [m^2]; 0 without any such."""
    squares = [
        float(np.var([step.thickness for step in one.steps])) * len(one.steps) for one in found
    ]
    return math.fsum(squares) / max(_free(found), 1)


def _beyond(
    name: str, mean: float, spread: tuple[float, float, int], share: float
) -> Iterator[Term]:
    """What was observed beyond what was expected (analysis of variance, one-way random effects)."""
    observed, expected, free = spread
    beyond = observed - expected
    if beyond > 0.0:
        # The degrees of freedom belong to the observed; the difference is known less well.
        yield _scatter(name, mean, beyond * share, free * (beyond / observed) ** 2)


def _scatter(name: str, mean: float, variance: float, dof: float) -> Term:
    return Term(
        input=name,
        value=mean,
        unit="m",
        u=math.sqrt(variance),
        sensitivity=1.0,
        dof=dof,
        evaluation="A",
        source=Source.DATA,
    )


def _left_out_bow(found: Sequence[SteppedScan], mean: float) -> Term:
    """What a parabola would have made of the mean: as far as this the straight line may be off."""
    others = [float(np.mean([step.other_thickness for step in one.steps])) for one in found]
    apart = abs(float(np.mean(others)) - mean)
    return Term(
        input="bow left out",
        value=0.0,
        unit="m",
        u=apart / math.sqrt(3.0),
        sensitivity=1.0,
        shape=Shape.RECTANGULAR,
        evaluation="B",
        source=Source.DATA,
    )


def _digits(found: Sequence[SteppedScan]) -> Iterator[Term]:
    """Rounding of heights written so coarsely that their noise does not average it away.

    Each level is then off by up to half a digit, the step by up to a whole one (JCGM 100:2008,
    F.2.2.1).
    """
    coarse = [
        digit
        for one in found
        if (digit := _digit(one.scan.z)) > 2.0 * max(step.residual_rms for step in one.steps)
    ]
    if coarse:
        yield Term(
            input="digits of the heights",
            value=0.0,
            unit="m",
            u=math.fsum(coarse) / len(found) / math.sqrt(6.0),
            sensitivity=1.0,
            shape=Shape.TRIANGULAR,
            evaluation="B",
            source=Source.DATA,
        )


def _digit(z: NDArray[np.float64]) -> float:
    """Smallest distance between two heights that differ [m]."""
    apart = np.diff(np.unique(z))
    rounding = 64.0 * np.finfo(np.float64).eps * float(np.abs(z).max())
    return float(apart[apart > rounding].min(initial=math.inf)) if apart.size else 0.0


def _warnings(found: Sequence[SteppedScan], height_scale: Measured) -> Iterator[Notice]:
    if height_scale.source is Source.DEFAULT:
        yield Notice(
            WarningCode.DEFAULT_USED,
            f"height scale uncertainty: not stated, ± {100 * (height_scale.u or 0.0):.2g} % taken",
        )
    for one in found:
        path = one.scan.source.path
        for left in one.scan.source.left_out:
            yield Notice(
                WarningCode.ROWS_LEFT_OUT,
                f"{path}: {left.words}",
            )
        masked = sum(step.masked for step in one.steps)
        points = masked + sum(step.points for step in one.steps)
        if masked > MASKED_SHARE_LIMIT * points:
            yield Notice(
                WarningCode.MASKED_SHARE,
                f"{path}: {100 * masked / points:.0f} % of the points on the steps were masked as "
                "dust or dropouts; look at the figure and clean or repeat the scan",
            )
        short = sum(not step.full and step.kind is not StepKind.EDGE for step in one.steps)
        if short:
            yield Notice(
                WarningCode.STEP_CUT_SHORT,
                f"{path}: {counted(short, 'step')} of {len(one.steps)} cannot be levelled on a "
                "width to either side, as ISO 5436-1 does; levelled on what is there",
            )
    steps = [step for one in found for step in one.steps]
    pairs = list(itertools.combinations(steps, 2))
    for one_step, other in pairs:
        u = math.hypot(one_step.u, other.u)
        dof = whole_dof(min(one_step.dof, other.dof))
        if abs(one_step.thickness - other.thickness) > u * t_factor(1.0 - 0.01 / len(pairs), dof):
            yield Notice(
                WarningCode.STEPS_DIFFER,
                "the steps differ by more than their noise: is the film uneven, or is one of them "
                "no step of this film? Their scatter is in the uncertainty",
            )
            return
