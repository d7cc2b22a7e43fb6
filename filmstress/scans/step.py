"""From a scan to its steps: which parts are used, and the height between them.

A groove or stripe of width w is read as ISO 5436-1 reads its type A1: of each side the stretch from
w/3 to w beyond the edge, of the floor or top the middle third, and one line that both levels share.
Where a film ends once there is no type A1: of both sides the stretch from v/3 to v beyond the edge
is used, v being the shorter side.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import MeasurementRefused, RefusedInput
from filmstress.records.notice import RefusalCode
from filmstress.records.scan import Scan
from filmstress.records.step import Part, Reference, Step, StepKind, SteppedScan
from filmstress.scans.step_edges import Edge, find_edges
from filmstress.scans.step_parts import Layout, layouts_of, within
from filmstress.stats.averaging import Setting
from filmstress.stats.robust import find_spikes
from filmstress.stats.step_fit import Levels, fit_levels, fit_step
from filmstress.units.say import readable

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

# Steps that were looked for stand out by this many standard uncertainties; stated ones by fewer.
FOUND_OUT = 6.0
# What is narrower than these shares of the scan is taken for dust, one after the other.
_NARROWEST = (0.04, 0.01, 0.0)
# Dust on a part is narrower than this fraction of it; rounds of masking and fitting again.
_DUST, _ROUNDS = 8.0, 2
_NO_STEP = "no step can be told from the noise"


def find_steps(
    scan: Scan,
    *,
    reference: Reference = Reference.LOW,
    edges: Sequence[float] = (),
    straight: bool = False,
    setting: Setting | str = Setting.BALANCED,
) -> SteppedScan:
    """Evaluate every step of a scan.

    Parameters
    ----------
    scan : Scan
    reference : Reference
        Which side is the substrate.  Where that is the higher level, the file's numbers grow into
        the surface, and the scan is turned over.
    edges : sequence of float
        Where the edges lie [m], in the file's positions; none: they are looked for.
    straight : bool
        Whether both levels share a straight line, as in the standard, or a parabola.
    setting : Setting or str
        Of the noise model.

    Raises
    ------
    MeasurementRefused
        There is no step to be told from the noise; the edges are no alternation of two levels; or
        the film would lie below its substrate.
    RefusedInput
        Stated edges that lie outside the scan or leave too little beside them.
    """

    def evaluated(found: tuple[Edge, ...]) -> SteppedScan:
        return _evaluated(
            scan,
            found,
            stated=bool(edges),
            reference=reference,
            straight=straight,
            setting=setting,
        )

    if reference is Reference.HIGH:
        scan = Scan(scan.x, -scan.z, scan.source)
    if edges:
        places = _stated(scan, edges)
        # Which way the first one goes, only the levelled heights tell.
        try:
            return evaluated(_alternating(places, up=True))
        except MeasurementRefused:
            return evaluated(_alternating(places, up=False))
    refusals: list[RefusedInput] = []
    for narrowest in _NARROWEST:
        try:
            return evaluated(find_edges(scan.x, scan.z, narrowest=narrowest))
        except RefusedInput as error:
            refusals.append(error)
    # Where there is no step at all, one look or another still trips over noise.
    raise next((one for one in refusals if one.message == _NO_STEP), refusals[0])


def _evaluated(
    scan: Scan,
    found: tuple[Edge, ...],
    *,
    stated: bool,
    reference: Reference,
    straight: bool,
    setting: Setting | str,
) -> SteppedScan:
    where = scan.source.path
    if not found:
        raise _no_step(where)
    _check_alternating(found, where)
    layouts = layouts_of(scan.x, [edge.x for edge in found], first_up=found[0].jump > 0.0)
    if not layouts:
        raise RefusedInput(
            "beside the edges too little of the scan is left to level it by",
            where=where,
            hint="a step wants a third of its width or more on both sides, beyond a third next to "
            "the edge; scan farther, or name other edges (--edge)",
        )
    film_high = _film_is_high(found, reference)
    steps = [
        _step(scan, layout, film_high=film_high, straight=straight, setting=setting)
        for layout in layouts
    ]
    least = 0.0 if stated else FOUND_OUT
    steps = [step for step in steps if abs(step.thickness) > least * step.u]
    if not steps:
        raise _no_step(where)
    if sum(step.thickness for step in steps) < 0.0:
        deep = readable(-sum(step.thickness for step in steps) / len(steps), "length")
        raise MeasurementRefused(
            f"the film would lie {deep} below its substrate",
            where=where,
            code=RefusalCode.NO_STEP,
            hint="is the substrate on the other side? Where the file's numbers grow into the "
            "surface, state --reference high",
        )
    return SteppedScan(scan, tuple(edge.x for edge in found), stated, tuple(steps))


def _no_step(where: str) -> MeasurementRefused:
    return MeasurementRefused(
        _NO_STEP,
        where=where,
        code=RefusalCode.NO_STEP,
        hint="if there is one, state its edges in the file's positions: --edge '1.2 mm' "
        "--edge '1.5 mm'",
    )


def _stated(scan: Scan, edges: Sequence[float]) -> list[float]:
    """Edges as stated, in order and within the scan."""
    low, high = float(scan.x[0]), float(scan.x[-1])
    for edge in edges:
        if not low < edge < high:
            raise RefusedInput(
                f"an edge at {readable(edge, 'length')} lies outside the scan",
                where=scan.source.path,
                hint=f"positions run from {readable(low, 'length')} to {readable(high, 'length')}",
            )
    return sorted(set(edges))


def _alternating(places: Sequence[float], *, up: bool) -> tuple[Edge, ...]:
    return tuple(Edge(x, 1.0 if up == (i % 2 == 0) else -1.0) for i, x in enumerate(places))


def _check_alternating(edges: Sequence[Edge], where: str) -> None:
    for one, other in itertools.pairwise(edges):
        if (one.jump > 0.0) == (other.jump > 0.0):
            raise MeasurementRefused(
                f"the surface goes {'up' if one.jump > 0 else 'down'} twice, at "
                f"{readable(one.x, 'length')} and at {readable(other.x, 'length')}: these are no "
                "two levels",
                where=where,
                code=RefusalCode.NO_STEP,
                hint="state the edges of the film in the file's positions: --edge '1.2 mm' "
                "--edge '1.5 mm'",
            )


def _film_is_high(edges: Sequence[Edge], reference: Reference) -> bool:
    if reference in (Reference.LOW, Reference.HIGH):
        return True
    up = edges[0].jump > 0.0
    return up if reference is Reference.LEFT else not up


def _step(
    scan: Scan, layout: Layout, *, film_high: bool, straight: bool, setting: Setting | str
) -> Step:
    x, z = scan.x, scan.z
    inner = np.zeros(x.size, dtype=np.bool_)
    use = np.zeros(x.size, dtype=np.bool_)
    for low, high in layout.inner:
        inner |= within(x, low, high)
    for low, high in (*layout.inner, *layout.outer):
        use |= within(x, low, high)
    film_inside = layout.inner_high == film_high
    film = inner == film_inside

    def levels(*, bow: bool) -> Levels:
        return fit_levels(x[use], z[use], film[use], window=layout.window, bow=bow)

    try:
        before = int(np.count_nonzero(use))
        for _ in range(_ROUNDS):
            use &= _clean(x, z, use, layout, levels(bow=True), film)
        masked = before - int(np.count_nonzero(use))
        other = levels(bow=straight)
        fit = fit_step(
            x[use], z[use], film[use], window=layout.window, bow=not straight, setting=setting
        )
    except RefusedInput as error:
        error.where = error.where or scan.source.path
        raise
    if len(layout.edges) == 1:
        kind = StepKind.EDGE
    else:
        kind = StepKind.STRIPE if film_inside else StepKind.GROOVE
    length = layout.window[1] - layout.window[0]
    return Step(
        kind=kind,
        edges=layout.edges,
        width=layout.width,
        parts=tuple(
            sorted(
                [
                    *(Part(low, high, film_inside) for low, high in layout.inner),
                    *(Part(low, high, not film_inside) for low, high in layout.outer),
                ],
                key=lambda part: part.low,
            )
        ),
        full=layout.full,
        thickness=fit.height,
        u=fit.u,
        dof=fit.dof,
        tilt=fit.tilt,
        bow=fit.curvature * length**2 / 8.0,
        other_thickness=other.height,
        centre=fit.centre,
        level=fit.level - 0.5 * fit.height,
        curvature=fit.curvature,
        residual_rms=fit.residual_rms,
        points=fit.points,
        masked=masked,
    )


def _clean(x: Floats, z: Floats, use: Mask, layout: Layout, fit: Levels, film: Mask) -> Mask:
    """Points that are no dust, part by part: levelled, so that a part's own shape is none."""
    keep = np.ones(x.size, dtype=np.bool_)
    rest = z - fit.line(x) - np.where(film, 0.5, -0.5) * fit.height
    for low, high in (*layout.inner, *layout.outer):
        part = np.flatnonzero(use & within(x, low, high))
        keep[part] = find_spikes(x[part], rest[part], widest=(high - low) / _DUST).keep
    return keep
