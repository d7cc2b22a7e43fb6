"""Measure one wafer: from its request to a StressResult."""

from __future__ import annotations

import math
import os
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Unpack

from filmstress.inputs.request import LineInput, build_wafer
from filmstress.inputs.settings import Settings, from_arguments
from filmstress.measure import film as outputs
from filmstress.measure.bending import without_stiffening
from filmstress.measure.curvatures import as_estimate, curvature_outputs, radius_of
from filmstress.measure.directions import group_by_direction
from filmstress.measure.film import Film
from filmstress.measure.lines import Read, measure_lines
from filmstress.measure.map_lines import with_directions, with_shared_maps
from filmstress.measure.plate import Plate, plate_of
from filmstress.measure.principal import principal_stresses
from filmstress.measure.propagation import on_propagation, propagated
from filmstress.measure.ring import without_ring
from filmstress.measure.same_scan import refusal_of_same, with_shared_scans
from filmstress.measure.uneven import uneven_stress
from filmstress.measure.verdicts import on_files, on_unevenness, refusal_of, warnings_of
from filmstress.measure.weight import change_of_sag, unknown_weight, weigh
from filmstress.physics.elasticity import biaxial_modulus, isotropic_plane_stress
from filmstress.records.budget import Budget, Term
from filmstress.records.notice import Notice
from filmstress.records.propagated import MonteCarlo
from filmstress.records.quantity import Estimate, Measured, Source
from filmstress.records.result import DirectionalStress, StressResult, SubstrateUsed
from filmstress.records.wafer import THIS_WAFER, FilmSpec, WaferSpec
from filmstress.scans.reading.scan_file import read_scan
from filmstress.scans.stage import StageDatum
from filmstress.stats.budget import combine, merge_shared
from filmstress.stats.monte_carlo import SEED

if TYPE_CHECKING:
    from filmstress.inputs.arguments import Arguments

PathLike = str | os.PathLike[str]


def measure_film(
    pre: PathLike | None,
    post: PathLike,
    *,
    monte_carlo: bool = False,
    seed: int = SEED,
    **settings: Unpack[Arguments],
) -> StressResult:
    """Stress of one film from a scan before and a scan after its deposition.

    Parameters
    ----------
    pre, post : path
        The two scans.  ``pre`` may be None where ``bare_bow`` is stated.
    monte_carlo, seed
        As in `measure_wafer`.
    **settings
        Everything stated about the measurement, each a text with a unit: ``substrate="Si(001)"``,
        ``substrate_thickness="525 um ± 2 um"``, ``film_thickness="1 um ± 2 %"``, ...  The names are
        those of the command line's options, with underscores.

    Returns
    -------
    StressResult
        A result whose ``refusal`` is set carries curvatures but no stress.

    Raises
    ------
    RefusedInput
        A quantity, a file or the substrate cannot be used.
    UsageError
        A setting is not known.

    Examples
    --------
    >>> import filmstress
    >>> result = filmstress.measure_film(
    ...     "pre.csv", "post.csv", substrate="Si(001)",
    ...     substrate_thickness="525 um ± 2 um", film_thickness="1.00 um ± 2 %",
    ... )  # doctest: +SKIP
    >>> print(filmstress.to_text(result))  # doctest: +SKIP
    """
    stated = from_arguments(settings, as_options=False, shared_by="wafer")
    return measure_wafer(pair_request(pre, post, stated), monte_carlo=monte_carlo, seed=seed)


def pair_request(pre: PathLike | None, post: PathLike, settings: Settings) -> WaferSpec:
    """The request of a single pair of scans."""
    paths = {"pre": None if pre is None else os.fspath(pre), "post": os.fspath(post)}
    line = LineInput(Settings(), paths, "the pair of scans")
    return build_wafer(THIS_WAFER, settings, with_directions([line], settings))


def measure_wafer(
    wafer: WaferSpec,
    *,
    setting: str = "balanced",
    stage: StageDatum | None = None,
    copies: int = 0,
    monte_carlo: bool = False,
    seed: int = SEED,
    read: Read = read_scan,
    in_brief: bool = False,
) -> StressResult:
    """Stress of the film that came between two states of a wafer.

    Parameters
    ----------
    wafer : WaferSpec
        What is stated about the wafer.
    setting : str
        Setting of the noise model: "sharp", "balanced" or "safe".
    stage : StageDatum, optional
        The stage's straightness, for scans whose datum is "from-lot".
    copies : int
        Synthetic copies of every line's measurement to prove its interval on, 40 or more; 0 for
        none.
    monte_carlo : bool
        Whether to propagate distributions in any case; where the first order is in doubt this is
        done by itself.
    seed : int
        Of its random numbers.
    read : callable
        Reads a scan from its path: drawn scans need no files.
    in_brief : bool
        Leave out the look beyond the first order and the stress along the scan.

    Raises
    ------
    RefusedInput
        A file or the substrate cannot be used, or the scans cannot be compared.
    """
    plate = plate_of(wafer.substrate)
    refusal = refusal_of(wafer) or unknown_weight(wafer, plate)
    sags = None if refusal else partial(change_of_sag, wafer, plate=plate)
    lines, files = measure_lines(
        wafer, setting=setting, stage=stage, copies=copies, known=sags, read_file=read
    )
    refusal = refusal or refusal_of_same(wafer, files, lines)
    lines = with_shared_maps(wafer, files, with_shared_scans(wafer, files, lines))
    weighed = weigh(group_by_direction(lines), wafer, plate)
    bent = without_stiffening(weighed.directions, wafer, plate)
    directions = without_ring(bent.directions, wafer, plate)
    film = Film.of(wafer, plate, directions, film_modulus(wafer.film))
    curvature, pre, post, bow = curvature_outputs(film)
    refusal = refusal or weighed.refusal or bent.refusal
    has_thickness = wafer.film.thickness is not None
    force, force_budget = _estimate(*outputs.force_per_width(film), "N/m")
    stress, budget = None, force_budget
    stoney = mismatch = None
    by_direction: list[DirectionalStress] = []
    if has_thickness:
        stress, budget = _estimate(*outputs.stress(film), "Pa")
        stoney, _ = _estimate(*outputs.stress_stoney(film), "Pa")
        if film.film_modulus is not None:
            mismatch, _ = _estimate(*outputs.stress_mismatch(film), "Pa")
    drawn = None
    if refusal is None and not in_brief:
        first = {"stress": stress, "force_per_width": force, "stress_mismatch": mismatch}
        told_first = {name: one for name, one in first.items() if one is not None}
        drawn = propagated(film, told_first, asked=monte_carlo, seed=seed)
    force = _with_interval(force, drawn, "force_per_width")
    if stress is not None:
        stress = _with_interval(stress, drawn, "stress")
        if mismatch is not None:
            mismatch = _with_interval(mismatch, drawn, "stress_mismatch")
        for index, direction in enumerate(film.directions):
            along, own = stress, budget
            if len(film.directions) > 1:
                along, own = _estimate(*outputs.stress(film, index), "Pa")
            by_direction.append(DirectionalStress(direction.azimuth, along, own))
    told = stress or force
    warnings = _of_lines(film)
    warnings += on_files(files)
    warnings += weighed.warnings + bent.warnings
    directions_told = [entry.stress for entry in by_direction] or [
        _estimate(*outputs.force_per_width(film, index), "N/m")[0]
        for index in range(len(film.directions))
    ]
    warnings += warnings_of(film, told, directions_told)
    warnings += on_propagation(drawn)
    uneven = None if in_brief else uneven_stress(film, told)
    warnings += on_unevenness(uneven, told)
    weight = None
    if refusal is None and any(line.weight for line in wafer.lines):
        # Loaded where it is used: few wafers are scanned on two supports.
        from filmstress.measure.weighing import by_weight

        told_weight = by_weight(film, setting=setting, stage=stage)
        weight, files = told_weight.found, (*files, *told_weight.files)
        warnings += told_weight.warnings
    result = StressResult(
        wafer=wafer,
        substrate=_substrate_used(film, budget),
        files=files,
        stress=stress,
        stress_by_direction=tuple(by_direction),
        stress_stoney=stoney,
        stress_mismatch=mismatch,
        force_per_width=force,
        curvature_change=curvature,
        curvature_pre=pre,
        curvature_post=post,
        radius=radius_of(curvature),
        bow_change=bow,
        lines=lines,
        budget=budget,
        warnings=tuple(dict.fromkeys(warnings)),
        refusal=refusal,
        principal=principal_stresses(film),
        monte_carlo=drawn,
        uneven=uneven,
        weight=weight,
    )
    return result if refusal is None else without_stress(result)


def _estimate(value: float, terms: list[Term], unit: str) -> tuple[Estimate, Budget]:
    budget = combine(merge_shared(terms))
    return as_estimate(value, unit, budget), budget


def _with_interval(first: Estimate, found: MonteCarlo | None, name: str) -> Estimate:
    """The estimate, with the drawn interval where the first order fails."""
    drawn = None if found is None else found.instead(name)
    return first if drawn is None else drawn.stated_with(first)


def without_stress(result: StressResult) -> StressResult:
    """The result of a wafer that was refused: its curvatures, and no stress."""
    return replace(
        result,
        stress=None,
        stress_by_direction=(),
        stress_stoney=None,
        stress_mismatch=None,
        force_per_width=None,
        principal=None,
        uneven=None,
    )


def film_modulus(film: FilmSpec) -> Measured | None:
    """The film's biaxial modulus as stated, or from its Young's modulus and Poisson's ratio."""
    if film.modulus is not None or film.youngs_modulus is None or film.poisson_ratio is None:
        return film.modulus
    youngs, poisson = film.youngs_modulus, film.poisson_ratio
    modulus = biaxial_modulus(
        isotropic_plane_stress(youngs_modulus_pa=youngs.value, poisson_ratio=poisson.value)
    )
    of_youngs = (youngs.u or 0.0) / youngs.value
    of_poisson = (poisson.u or 0.0) / (1.0 - poisson.value)
    return Measured(modulus, "Pa", modulus * (of_youngs**2 + of_poisson**2) ** 0.5)


def _substrate_used(film: Film, budget: Budget) -> SubstrateUsed:
    plate: Plate = film.plate
    u = next((row.term.u for row in budget.rows if row.term.input == "substrate modulus"), None)
    source = Source.TABLE if plate.edition else Source.STATED
    return SubstrateUsed(
        label=plate.label,
        modulus=Measured(film.modulus, "Pa", u, source=source),
        stiffness=tuple(tuple(float(q) for q in row) for row in plate.reduced),
        edition=plate.edition,
        sources=plate.sources,
    )


def _of_lines(film: Film) -> list[Notice]:
    """What the lines warn of; where it is not all directions alike, along which."""
    along: dict[Notice, list[str]] = {}
    for direction in film.directions:
        name = f"{math.degrees(direction.azimuth):.4g} deg"
        for notice in dict.fromkeys(one for line in direction.lines for one in line.warnings):
            along.setdefault(notice, []).append(name)
    return [
        notice
        if len(names) == len(film.directions)
        else replace(notice, message=f"along {' and '.join(names)}: {notice.message}")
        for notice, names in along.items()
    ]
