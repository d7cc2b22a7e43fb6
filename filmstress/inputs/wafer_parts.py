"""Substrate and film of a wafer's request."""

from __future__ import annotations

from pathlib import Path

from filmstress.errors import FilmstressError
from filmstress.inputs.builder import Builder
from filmstress.inputs.defaults import DEFAULTS, thickness_default
from filmstress.inputs.readers import Quantity, record_named
from filmstress.inputs.scan_parts import located
from filmstress.inputs.settings import RIVALS, Setting, Settings
from filmstress.inputs.thickness_record import Files, read_thickness
from filmstress.records.quantity import Measured
from filmstress.records.wafer import Face, FilmSpec, SubstrateSpec, wafer_named

_CONSTANTS = ("modulus", "youngs_modulus", "poisson_ratio", "density")
_NOTHING = Measured(1.0, "m", 0.0)


def substrate_spec(build: Builder, settings: Settings, wafer_id: str) -> SubstrateSpec:
    """The substrate; what is missing or contradicts itself is kept as a fault."""
    stated = settings.substrate
    diameter = build.quantity(stated.get("diameter"))
    setting = stated.get("thickness")
    if setting is None and "substrate.thickness" not in settings.meant:
        build.fault(
            "the substrate's thickness is not stated",
            "state --substrate-thickness '525 um ± 2 um', in a file substrate.thickness; it enters "
            "the stress squared",
        )
    thickness = build.quantity(setting, thickness_default(diameter.value if diameter else None))
    material = build.text(stated.get("material"))
    constants = {name: build.quantity(stated.get(name)) for name in _CONSTANTS}
    build.contradictions(stated, RIVALS["substrate"])
    if not (
        stated.keys() & {"material", "modulus"}
        or stated.keys() >= {"youngs_modulus", "poisson_ratio"}
        or settings.meant & {f"substrate.{name}" for name in ("material", *_CONSTANTS)}
    ):
        build.fault(
            "the substrate is not named",
            "name material and cut by --substrate 'Si(001)', in a file substrate.material, or "
            "state Young's modulus and Poisson's ratio, or the biaxial modulus",
        )
    return SubstrateSpec(
        material=material,
        thickness=thickness or _NOTHING,
        azimuth_reference=build.text(stated.get("azimuth_reference")),
        diameter=diameter,
        miscut=build.quantity(stated.get("miscut")),
        thickness_common_to=_shared_by(setting, wafer_id),
        **constants,
    )


def film_spec(
    build: Builder,
    settings: Settings,
    wafer_id: str,
    *,
    stripped: bool,
    base: Path | None = None,
) -> FilmSpec:
    """The film; what contradicts itself is kept as a fault.

    ``base`` is the folder that the path of a thickness record starts from.
    """
    stated = settings.film
    thickness, files = _thickness(build, stated.get("thickness"), base)
    face = Face(build.word(stated.get("face"), "up"))
    build.contradictions(stated, RIVALS["film"])
    pair = ("youngs_modulus", "poisson_ratio")
    for name, other in (pair, pair[::-1]):
        if name in stated and other not in stated and "modulus" not in stated:
            build.fault(
                f"the film's {name} is stated without its {other}",
                f"state film {other} too, or the biaxial modulus in place of both",
                stated[name].where,
            )
    profile = build.quantity(stated.get("thickness_profile"))
    if profile is None:
        default = DEFAULTS["film.thickness_profile"]
        profile = default.apply(Measured(0.0, "1"))
        if thickness is not None and face is Face.UP:
            build.note(f"film thickness profile: not stated, 0 with {default.words}")
    return FilmSpec(
        thickness=thickness,
        material=build.text(stated.get("material")),
        modulus=build.quantity(stated.get("modulus")),
        youngs_modulus=build.quantity(stated.get("youngs_modulus")),
        poisson_ratio=build.quantity(stated.get("poisson_ratio")),
        face=face,
        both_faces=build.word(stated.get("faces"), "one") == "both",
        stripped=stripped,
        uncoated_ring=build.quantity(stated.get("uncoated_ring")) or Measured(0.0, "m", 0.0),
        thickness_profile=profile,
        thickness_files=files,
        thickness_common_to=_shared_by(stated.get("thickness"), wafer_id),
    )


def _thickness(
    build: Builder, setting: Setting | None, base: Path | None
) -> tuple[Measured | None, Files]:
    """The film's thickness as stated, or from the record that is named in its place."""
    named = None if setting is None else record_named(setting.raw)
    if setting is None or named is None:
        return build.quantity(setting), ()
    path = located(build.text(setting), base)
    reader = setting.key.reader
    if path is None or not isinstance(reader, Quantity):
        return None, ()
    try:
        return read_thickness(path, reader.kind, where=setting.where)
    except FilmstressError as fault:
        build.faults.add(fault)
        return None, ()


def check_sizes(
    build: Builder, settings: Settings, substrate: SubstrateSpec, film: FilmSpec
) -> None:
    """Keep a fault for sizes that are plausible alone but not beside each other."""
    thickness, known = settings.film.get("thickness"), substrate.thickness is not _NOTHING
    if thickness and film.thickness and known:
        ratio = film.thickness.value / substrate.thickness.value
        if ratio >= 1.0:
            build.fault(
                f"the film is {ratio:.3g} times as thick as its substrate",
                "was another unit meant for one of the two thicknesses?",
                thickness.where,
            )
    ring = settings.film.get("uncoated_ring")
    if ring and substrate.diameter and 2.0 * film.uncoated_ring.value >= substrate.diameter.value:
        build.fault(
            "the uncoated ring covers the whole wafer",
            "it is the ring's width, from the rim inwards: uncoated_ring = '3 mm'",
            ring.where,
        )


def _shared_by(setting: Setting | None, wafer_id: str) -> str:
    return wafer_named(wafer_id) if setting is None else setting.shared_by
