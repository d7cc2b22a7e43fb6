"""What a measurement must warn about, and what it must refuse."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from filmstress.measure.film import Film
from filmstress.measure.plate import Plate
from filmstress.records.budget import Term
from filmstress.records.notice import Notice, RefusalCode, WarningCode
from filmstress.records.quantity import Estimate, Source
from filmstress.records.scan import ScanSource
from filmstress.records.uneven import UnevenStress
from filmstress.records.wafer import Face, Support, WaferSpec
from filmstress.stats.rounding import round_pair

THICK_FILM_RATIO = 0.01
UNUSUAL_STRESS_PA = 5e9
AZIMUTH_DIFFERENCE = 0.02
# An odd part smaller than this share of the departure is not worth a word.
ODD_SHARE = 0.25
# Unevenness is warned of where it moves the number by this share of its expanded uncertainty.
UNEVEN_SHARE = 0.25


def refusal_of(wafer: WaferSpec) -> Notice | None:
    """A reason, known before any number, why the scans cannot carry a stress."""
    scans = [state.scan for line in wafer.lines for state in line.states if state.scan.path]
    if any(scan.support is Support.CLAMPED for scan in scans):
        return Notice(
            RefusalCode.CLAMPED,
            "the wafer was clamped while it was scanned: the clamp presses out the bow that "
            "carries the stress; scan it again lying free, on three points or on its rim",
        )
    if wafer.film.both_faces and not wafer.film.stripped:
        return Notice(
            RefusalCode.BOTH_FACES,
            "both faces carry the film: their bows cancel and say nothing about the stress; strip "
            "one face and scan again, with reference = 'stripped' or the stripped state as the "
            "second scan",
        )
    return None


def warnings_of(
    film: Film, told: Estimate | None, direction_stresses: list[Estimate]
) -> Iterator[Notice]:
    """Warnings about a wafer's result as a whole."""
    wafer = film.wafer
    yield from _on_statements(wafer, film.plate)
    yield from _on_thickness(film)
    yield from _on_azimuths(film, direction_stresses)
    if told is not None and told.unit == "Pa" and abs(told.value) > UNUSUAL_STRESS_PA:
        yield Notice(
            WarningCode.UNUSUAL_STRESS,
            f"{told.value / 1e9:.3g} GPa is beyond what films usually carry; check units, "
            "thicknesses and the height scale",
        )


def on_unevenness(uneven: UnevenStress | None, told: Estimate) -> Iterator[Notice]:
    """A mean over the area that the single number misses."""
    if uneven is None or not uneven.significant:
        return
    mean, apart = uneven.area_mean, uneven.difference
    if mean is None or apart is None:
        return
    if abs(apart.value) <= UNEVEN_SHARE * (told.expanded or 0.0):
        return
    side = "higher" if apart.value > 0.0 else "lower"
    size = replace(apart, value=abs(apart.value))
    if uneven.lines > 1:
        doubt = f"the {uneven.lines} lines agree on it within that uncertainty"
    else:
        doubt = "one line cannot tell it from a slow drift"
    odd = ""
    if uneven.odd_significant and uneven.odd_share > ODD_SHARE:
        odd = (
            f"; {100 * uneven.odd_share:.0f} % of the variation along the scan is odd about the "
            "wafer's centre, so the film does not vary with the radius alone"
        )
    yield Notice(
        WarningCode.UNEVEN_STRESS,
        f"the stress is uneven: the single number weights the middle, and the mean over the area "
        f"is {_with_u(mean)}, {_with_u(size)} {side}; {doubt}{odd}",
    )


def on_files(files: Sequence[tuple[str, ScanSource]]) -> Iterator[Notice]:
    """Rows that did not become points."""
    for state, source in files:
        for left in source.left_out:
            yield Notice(
                WarningCode.ROWS_LEFT_OUT,
                f"{state} scan: {left.words}",
            )


def _on_statements(wafer: WaferSpec, plate: Plate) -> Iterator[Notice]:
    if wafer.substrate.thickness.source is Source.DEFAULT:
        yield Notice(
            WarningCode.NOMINAL_THICKNESS,
            "the substrate's thickness is nominal and enters the stress squared; measure it",
        )
    scans = [state.scan for line in wafer.lines for state in line.states if state.scan.path]
    if wafer.bare_bow is not None and all(scan.support is None for scan in scans):
        yield Notice(
            WarningCode.SUPPORT_ASSUMED,
            "the support is not stated: the wafer is taken to lie as freely as its stated bare bow "
            "means it to; what it may sag is in the budget where its diameter is stated",
        )
    elif any(scan.support is None for scan in scans):
        yield Notice(
            WarningCode.SUPPORT_ASSUMED,
            "the support is not stated: the same fixed support is taken for both scans, on which "
            "the wafer's own weight cancels",
        )
    profile = wafer.film.thickness_profile
    if profile.source is Source.STATED and (profile.value or profile.u):
        why = ""
        if wafer.film.thickness is None:
            why = "the film's thickness is not stated"
        elif wafer.film.face is Face.DOWN:
            why = "the film is on the other face, where the scan does not see its thickness"
        if why:
            yield Notice(
                WarningCode.INPUT_UNUSED, f"film thickness profile: stated, but not used: {why}"
            )
    for note in wafer.notes:
        yield Notice(WarningCode.DEFAULT_USED, note)
    # It matters between azimuths only: one azimuth sees one modulus on such a cut.
    if plate.reference_assumed and len(wafer.lines) > 1:
        yield Notice(
            WarningCode.DEFAULT_USED,
            f"azimuth reference: not stated, {plate.reference_assumed} taken as the direction of "
            "the 0 deg scan",
        )


def _on_thickness(film: Film) -> Iterator[Notice]:
    ratio = film.thickness_ratio
    if ratio > THICK_FILM_RATIO and film.film_modulus is None:
        yield Notice(
            WarningCode.THICK_FILM,
            f"the film is {100 * ratio:.1f} % of the substrate's thickness: the stress stated "
            "is the mean "
            "that the film now carries; the stress on a rigid substrate differs from it by about "
            f"{400 * ratio:.0f} % times the ratio of the moduli, and wants the film's modulus",
        )


def _on_azimuths(film: Film, stresses: list[Estimate]) -> Iterator[Notice]:
    if len(film.directions) == 1:
        yield Notice(
            WarningCode.EQUIBIAXIAL_ASSUMED,
            "one azimuth was scanned: the stress is taken to be the same in all directions",
        )
        return
    if len(film.directions) == 2:
        yield Notice(
            WarningCode.EQUIBIAXIAL_ASSUMED,
            "two azimuths cannot see the twist between them: shear is taken to be the least that "
            "they allow; scan a third azimuth to see the principal stresses",
        )
    # Judged on the force that each azimuth alone would give; what all azimuths share cancels.
    moduli = film.plain.row.diagonal()
    forces = [
        (modulus * direction.film_change, modulus * _own_u(direction.terms))
        for modulus, direction in zip(moduli, film.directions, strict=True)
    ]
    low, high = min(forces), max(forces)
    spread, u = high[0] - low[0], math.hypot(low[1], high[1])
    size = max(abs(low[0]), abs(high[0]))
    if spread > 3.0 * u and spread > AZIMUTH_DIFFERENCE * size:
        ends = sorted(zip(stresses, film.directions, strict=True), key=lambda pair: pair[0].value)
        told = " and ".join(
            f"{_spoken(stress)} along {math.degrees(direction.azimuth):.3g} deg"
            for stress, direction in (ends[0], ends[-1])
        )
        yield Notice(
            WarningCode.AZIMUTHS_DIFFER,
            f"the azimuths do not agree on one equibiaxial stress: {told}; the single number is "
            "only their mean, read the stress by direction",
        )


def _with_u(size: Estimate) -> str:
    unit, scale = ("MPa", 1e6) if size.unit == "Pa" else (size.unit, 1.0)
    value, u = round_pair(size.value, size.expanded or 0.0, scale=scale)
    return f"{value} ± {u} {unit}"


def _own_u(terms: Sequence[Term]) -> float:
    return math.sqrt(math.fsum(term.contribution**2 for term in terms))


def _spoken(stress: Estimate) -> str:
    if stress.unit == "Pa":
        return f"{stress.value / 1e6:.4g} MPa"
    return f"{stress.value:.4g} N/m"
