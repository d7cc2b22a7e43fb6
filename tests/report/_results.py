"""Results made by hand, for testing what is said and drawn of them.

Everything is built from a few knobs with the plain equations written out here, without the
measuring rooms, so that a test of words or figures cannot fail for another room's reason.
The numbers agree with one another: stress, force, curvatures, bow and budget belong together.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Sequence
from typing import Any

from filmstress.records.budget import Budget, Term
from filmstress.records.curvature import CurvatureChange
from filmstress.records.notice import Notice, WarningCode
from filmstress.records.quantity import Measured, Shape, Source
from filmstress.records.result import DirectionalStress, StressResult, SubstrateUsed
from filmstress.records.scan import ScanSource
from filmstress.records.wafer import (
    FilmSpec,
    LineSpec,
    ScanSpec,
    State,
    SubstrateSpec,
    WaferSpec,
)
from filmstress.stats.budget import combine
from filmstress.stats.coverage import estimate
from tests.report._lines import DOF, make_line

MODULUS_PA = 180.0e9
SUBSTRATE_M = 675e-6
FILM_M = 500e-9

NOMINAL = Notice(WarningCode.NOMINAL_THICKNESS, "the substrate's thickness is nominal")
SUPPORT = Notice(WarningCode.SUPPORT_ASSUMED, "the support is not stated")
EQUIBIAXIAL = Notice(WarningCode.EQUIBIAXIAL_ASSUMED, "one azimuth was scanned")


def notice(code: WarningCode) -> Notice:
    """A warning whose message does not matter."""
    return Notice(code, "words")


def made_of(*contributions: float) -> list[Term]:
    """Budget terms of these contributions [MPa], by turns of type A and B."""
    return [
        Term(
            input=f"input {number}",
            value=1.0,
            unit="m",
            u=contribution * 1e6,
            sensitivity=-1.0,
            evaluation="AB"[number % 2],
        )
        for number, contribution in enumerate(contributions)
    ]


def make_result(
    *lines: CurvatureChange,
    film_m: float | None = FILM_M,
    wafer_id: str = "wafer 01",
    material: str | None = "silicon nitride",
    refusal: Notice | None = None,
    warnings: tuple[Notice, ...] = (NOMINAL, SUPPORT, EQUIBIAXIAL),
    terms: Sequence[Term] | None = None,
    **changes: Any,
) -> StressResult:
    """One wafer's result; without lines, one pair of good scans of a tensile film (98 MPa).

    Parameters
    ----------
    *lines : CurvatureChange
        From `_lines.make_line`.
    film_m : float or None
        Film thickness [m]; None: force per width only.
    wafer_id, material : str
        What the user calls them.
    refusal : Notice, optional
        Takes the stresses and the force away.
    warnings : tuple of Notice
    terms : sequence of Term, optional
        Replaces the terms of the budget (output in Pa, or N/m without ``film_m``).
    **changes
        Fields of the result to replace at the end.
    """
    lines = lines or (make_line(),)
    change = math.fsum(line.change.curvature for line in lines) / len(lines)
    per_curvature = MODULUS_PA * SUBSTRATE_M**2 / 6.0
    force = per_curvature * change
    divisor = 1.0 if film_m is None else film_m
    value = force / divisor
    if terms is None:
        terms = _terms(lines, value, per_curvature / divisor, film_m)
    budget = combine(terms)
    stress = None
    if film_m is not None and refusal is None:
        stress = estimate(value, "Pa", u=budget.u, dof=budget.dof)
    length = lines[0].change.length
    u_change = lines[0].change.u
    curvature = estimate(change, "1/m", u=u_change, dof=DOF)
    result = StressResult(
        wafer=_wafer(lines, wafer_id, material, film_m),
        substrate=SubstrateUsed(
            label="Si(001)",
            modulus=Measured(MODULUS_PA, "Pa", 0.5e9, source=Source.TABLE),
            stiffness=((140.6e9, 39.4e9, 0.0), (39.4e9, 140.6e9, 0.0), (0.0, 0.0, 79.5e9)),
            edition="2026-11",
            sources=("a handbook",),
        ),
        files=tuple(_files(lines)),
        stress=stress,
        stress_by_direction=()
        if stress is None
        else tuple(_along(lines, per_curvature / divisor, budget.u)),
        stress_stoney=stress,
        stress_mismatch=None,
        force_per_width=None
        if refusal is not None
        else estimate(force, "N/m", u=budget.u * divisor, dof=budget.dof),
        curvature_change=curvature,
        curvature_pre=estimate(lines[0].pre_curvature, "1/m", u=lines[0].pre_u, dof=DOF),
        curvature_post=estimate(lines[0].post.fit.curvature, "1/m", u=lines[0].post.fit.u, dof=DOF),
        radius=None
        if curvature.holds_zero
        else estimate(1.0 / change, "m", u=u_change / change**2, dof=DOF),
        bow_change=estimate(change * length**2 / 8.0, "m", u=u_change * length**2 / 8.0, dof=DOF),
        lines=lines,
        budget=budget,
        warnings=(*(w for line in lines for w in line.warnings), *warnings),
        refusal=refusal,
    )
    return dataclasses.replace(result, **changes)


def _terms(
    lines: Sequence[CurvatureChange], value: float, per_curvature: float, film_m: float | None
) -> list[Term]:
    several = len(lines) > 1
    fits = [
        dataclasses.replace(
            line.terms[0],
            input=f"curvature fit, line {i}" if several else "curvature fit",
            sensitivity=per_curvature / len(lines),
        )
        for i, line in enumerate(lines, start=1)
    ]
    terms = [
        *fits,
        Term(
            input="substrate thickness",
            value=SUBSTRATE_M,
            unit="m",
            u=2e-6,
            sensitivity=2.0 * value / SUBSTRATE_M,
            common_to="wafer 01",
        ),
        Term(
            input="substrate modulus",
            value=MODULUS_PA,
            unit="Pa",
            u=0.5e9,
            sensitivity=value / MODULUS_PA,
            common_to="table Si",
            source=Source.TABLE,
        ),
        Term(
            input="height scale",
            value=1.0,
            unit="1",
            u=5e-3,
            sensitivity=value,
            common_to="gauge",
            source=Source.DEFAULT,
        ),
        Term(
            input="position scale",
            value=1.0,
            unit="1",
            u=1e-3,
            sensitivity=-2.0 * value,
            common_to="gauge",
            source=Source.DEFAULT,
        ),
    ]
    if film_m is not None:
        terms.append(
            Term(
                input="film thickness",
                value=film_m,
                unit="m",
                u=0.05 * film_m / math.sqrt(3.0),
                sensitivity=-value / film_m,
                shape=Shape.RECTANGULAR,
                common_to="wafer 01",
                source=Source.DEFAULT,
            )
        )
    return terms


def _along(
    lines: Sequence[CurvatureChange], per_curvature: float, u: float
) -> Iterator[DirectionalStress]:
    for azimuth in dict.fromkeys(line.azimuth for line in lines):
        changes = [line.change.curvature for line in lines if line.azimuth == azimuth]
        value = per_curvature * math.fsum(changes) / len(changes)
        yield DirectionalStress(azimuth, estimate(value, "Pa", u=u, dof=DOF), Budget((), u, DOF))


def _wafer(
    lines: Sequence[CurvatureChange], wafer_id: str, material: str | None, film_m: float | None
) -> WaferSpec:
    bare = lines[0].pre is None
    bow = lines[0].pre_curvature * lines[0].change.length ** 2 / 8.0
    return WaferSpec(
        id=wafer_id,
        substrate=SubstrateSpec(
            material="Si(001)",
            azimuth_reference="[110]",
            thickness=Measured(SUBSTRATE_M, "m", 2e-6, read_as="± 2 um (standard uncertainty)"),
        ),
        film=FilmSpec(
            thickness=None
            if film_m is None
            else Measured(
                film_m,
                "m",
                0.05 * film_m / math.sqrt(3.0),
                shape=Shape.RECTANGULAR,
                read_as="± 5 % (limits), default",
                source=Source.DEFAULT,
            ),
            material=material,
        ),
        lines=tuple(_line_spec(number, line) for number, line in enumerate(lines, start=1)),
        bare_bow=Measured(bow, "m", 1e-6) if bare else None,
    )


def _line_spec(number: int, line: CurvatureChange) -> LineSpec:
    azimuth = Measured(line.azimuth, "rad", math.radians(1.0))
    pre = None if line.pre is None else f"pre-{number}.csv"
    return LineSpec(
        (
            State("pre", ScanSpec(path=pre, azimuth=azimuth)),
            State("post", ScanSpec(path=f"post-{number}.csv", azimuth=azimuth)),
        )
    )


def _files(lines: Sequence[CurvatureChange]) -> list[tuple[str, ScanSource]]:
    files = []
    for number, line in enumerate(lines, start=1):
        for state in ("pre", "post") if line.pre is not None else ("post",):
            source = ScanSource(
                path=f"{state}-{number}.csv",
                sha256=f"{number:064x}",
                position_unit="mm",
                height_unit="um",
                position_column="x",
                height_column="z",
                rows=line.change.points,
            )
            files.append((state, source))
    return files
