"""Settings as written -> a frozen :class:`WaferSpec` in SI, or every fault at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from filmstress.errors import Faults, FilmstressError, RefusedInput
from filmstress.inputs.defaults import (
    DEFAULTS,
    HEIGHT_SCALE_UNCERTAINTY,
    POSITION_SCALE_UNCERTAINTY,
    REPEATABILITIES,
    Default,
    thickness_default,
)
from filmstress.inputs.keys import (
    Choice,
    Quantity,
    QuantityOrWord,
    QuantityRange,
    all_keys,
)
from filmstress.inputs.settings import Setting, Settings
from filmstress.records.quantity import Measured, Shape, Source
from filmstress.records.scan import ReadingOptions
from filmstress.records.wafer import (
    Face,
    FilmSpec,
    LineSpec,
    ScanSpec,
    State,
    SubstrateSpec,
    Support,
    WaferSpec,
)
from filmstress.units.quantity import read_quantity, read_range

T = TypeVar("T")

_LABELS = ("instrument", "operator", "date", "temperature")


@dataclass(frozen=True, slots=True)
class LineInput:
    """One line: its own settings, and the file of each of its states."""

    settings: Settings
    paths: Mapping[str, str | None]
    where: str


def value_of(setting: Setting) -> object:
    """The value of one setting, read as its key wants it.

    Raises
    ------
    RefusedInput
        If the text cannot be read.
    """
    reader, raw, where = setting.key.reader, setting.raw, setting.where
    if isinstance(reader, Quantity):
        return read_quantity(_quantity_text(raw, setting), reader.kind, where=where)
    if isinstance(reader, QuantityOrWord):
        if isinstance(raw, str) and raw.strip().lower() == reader.word:
            return None
        return read_quantity(_quantity_text(raw, setting), reader.kind, where=where)
    if isinstance(reader, QuantityRange):
        if not isinstance(raw, str):
            raise _wrong_type(setting, "a range such as", reader.kind.example)
        low, high = read_range(raw, reader.kind, where=where)
        return low.value, high.value
    if isinstance(reader, Choice):
        word = {True: "yes", False: "no"}[raw] if isinstance(raw, bool) else raw
        if word not in reader.words:
            raise RefusedInput(
                f"{raw!r} is not one of the words known here",
                where=where,
                hint="write one of: " + ", ".join(reader.words),
            )
        return word
    if not isinstance(raw, str) or not raw.strip():
        raise _wrong_type(setting, "a text such as", reader.example)
    return raw.strip()


def _quantity_text(raw: object, setting: Setting) -> str | float | Measured:
    if isinstance(raw, bool) or not isinstance(raw, str | int | float | Measured):
        raise _wrong_type(setting, "a quantity such as", _example(setting))
    return raw


def _example(setting: Setting) -> str:
    reader = setting.key.reader
    return reader.kind.example if isinstance(reader, Quantity | QuantityOrWord) else ""


def _wrong_type(setting: Setting, wanted: str, example: str) -> RefusedInput:
    return RefusedInput(
        f"{setting.raw!r} is not {wanted.removesuffix(' such as')}",
        where=setting.where,
        hint=f"write {wanted} '{example}'",
    )


class _Builder:
    """Reads settings, keeping count of faults and of the defaults that were filled in."""

    def __init__(self) -> None:
        self.faults: list[FilmstressError] = []
        self.notes: list[str] = []

    def attempt(self, read: Callable[[], T], fallback: T) -> T:
        try:
            return read()
        except FilmstressError as fault:
            self.faults.append(fault)
            return fallback

    def quantity(self, setting: Setting | None) -> Measured | None:
        """The quantity of a setting with its default uncertainty, if it has one."""
        if setting is None:
            return None
        value = self.attempt(lambda: value_of(setting), None)
        if not isinstance(value, Measured):
            return None
        return self.filled(value, DEFAULTS.get(setting.key.full_name), setting.key.full_name)

    def filled(self, value: Measured, default: Default | None, name: str) -> Measured:
        if value.u is not None:
            return value
        if default is None:
            # Without a default (a diameter, a window's end) the value is taken as it stands.
            return value.with_default(u=0.0, shape=Shape.EXACT, read_as="taken as exact")
        filled = default.apply(value)
        self.note(f"{spoken(name)}: no uncertainty stated, default {default.words} used")
        return filled

    def note(self, text: str) -> None:
        if text not in self.notes:
            self.notes.append(text)

    def word(self, setting: Setting | None, fallback: str) -> str:
        if setting is None:
            return fallback
        value: object = self.attempt(lambda: value_of(setting), None)
        return value if isinstance(value, str) else fallback

    def text(self, setting: Setting | None) -> str | None:
        return self.word(setting, "") or None


def spoken(full_name: str) -> str:
    """``substrate.thickness`` -> "substrate thickness"; scan keys lose the table's name."""
    return full_name.removeprefix("scan.").replace(".", " ").replace("_", " ")


def build_wafer(
    wafer_id: str,
    settings: Settings,
    lines: Sequence[LineInput],
    *,
    base: Path | None = None,
) -> WaferSpec:
    """A wafer's request from everything stated about it.

    Parameters
    ----------
    wafer_id : str
        Name of the wafer.
    settings : Settings
        What holds for the whole wafer (lot and wafer levels already overlaid).
    lines : sequence of LineInput
        The scanned lines; their settings win over the wafer's.
    base : Path, optional
        Folder that relative paths start from.

    Raises
    ------
    Faults
        With every fault found.
    """
    build = _Builder()
    substrate = _substrate(build, settings, wafer_id)
    film = _film(build, settings, wafer_id)
    line_specs = tuple(_line(build, settings.overlaid(line.settings), line, base) for line in lines)
    bare_bow = build.quantity(settings.wafer.get("bare_bow"))
    reference = build.word(settings.wafer.get("reference"), "before")
    role = build.word(settings.wafer.get("role"), "product")
    if not line_specs:
        build.faults.append(
            RefusedInput("no scans are named", where=f"wafer {wafer_id}", hint="name pre and post")
        )
    if bare_bow is None:
        for line in lines:
            if not line.paths.get("pre"):
                build.faults.append(
                    RefusedInput(
                        "the scan before deposition is missing",
                        where=line.where,
                        hint="name it, or state the bare wafer's bow: bare_bow '0 um ± 15 um'",
                    )
                )
    if build.faults:
        raise build.faults[0] if len(build.faults) == 1 else Faults(build.faults)
    return WaferSpec(
        id=wafer_id,
        substrate=substrate,
        film=film,
        lines=line_specs,
        bare_bow=bare_bow,
        reference=reference,
        role=role,
        settings=tuple((name, str(setting.raw)) for name, setting in settings.every()),
        notes=tuple(build.notes),
    )


def _shared_by(setting: Setting | None, wafer_id: str) -> str:
    return f"wafer {wafer_id}" if setting is None else setting.shared_by


def _substrate(build: _Builder, settings: Settings, wafer_id: str) -> SubstrateSpec:
    stated = settings.substrate
    diameter = build.quantity(stated.get("diameter"))
    thickness = Measured(1.0, "m", 0.0)
    if (setting := stated.get("thickness")) is None:
        build.faults.append(
            RefusedInput(
                "the substrate's thickness is not stated",
                where=f"wafer {wafer_id}",
                hint="state it: substrate thickness '525 um ± 2 um'; it enters the stress squared",
            )
        )
    else:
        value = build.attempt(lambda: value_of(setting), None)
        if isinstance(value, Measured):
            default = thickness_default(diameter.value if diameter else None)
            thickness = build.filled(value, default, "substrate.thickness")
    material = build.text(stated.get("material"))
    constants = ("modulus", "youngs_modulus", "poisson_ratio", "density")
    youngs, poisson, modulus = (
        name in stated for name in ("youngs_modulus", "poisson_ratio", "modulus")
    )
    if material is None and not modulus and not (youngs and poisson):
        build.faults.append(
            RefusedInput(
                "the substrate is not named",
                where=f"wafer {wafer_id}",
                hint="name material and cut, 'Si(001)', or state Young's modulus and Poisson's "
                "ratio, or the biaxial modulus",
            )
        )
    if material is not None and any(name in stated for name in constants):
        build.faults.append(
            RefusedInput(
                f"both a material of the table, '{material}', and constants of its own are stated",
                where=f"wafer {wafer_id}",
                hint="state the one or the other",
            )
        )
    return SubstrateSpec(
        material=material,
        thickness=thickness,
        azimuth_reference=build.text(stated.get("azimuth_reference")),
        diameter=diameter,
        miscut=build.quantity(stated.get("miscut")),
        thickness_common_to=_shared_by(stated.get("thickness"), wafer_id),
        **{name: build.quantity(stated.get(name)) for name in constants},
    )


def _film(build: _Builder, settings: Settings, wafer_id: str) -> FilmSpec:
    stated = settings.film
    profile = build.quantity(stated.get("thickness_profile"))
    if profile is None:
        profile = DEFAULTS["film.thickness_profile"].apply(Measured(0.0, "1"))
    return FilmSpec(
        thickness=build.quantity(stated.get("thickness")),
        material=build.text(stated.get("material")),
        modulus=build.quantity(stated.get("modulus")),
        youngs_modulus=build.quantity(stated.get("youngs_modulus")),
        poisson_ratio=build.quantity(stated.get("poisson_ratio")),
        face=Face(build.word(stated.get("face"), "up")),
        both_faces=build.word(stated.get("faces"), "one") == "both",
        stripped=build.word(settings.wafer.get("reference"), "before") == "stripped",
        uncoated_ring=build.quantity(stated.get("uncoated_ring")) or Measured(0.0, "m", 0.0),
        thickness_profile=profile,
        thickness_common_to=_shared_by(stated.get("thickness"), wafer_id),
    )


def _line(build: _Builder, settings: Settings, line: LineInput, base: Path | None) -> LineSpec:
    return LineSpec(
        tuple(
            State(state, _scan(build, settings, state, _located(path, base)))
            for state, path in line.paths.items()
        )
    )


def _located(path: str | None, base: Path | None) -> str | None:
    if path is None or path == "-" or base is None:
        return path
    return str(base / path)


def _scan(build: _Builder, settings: Settings, state: str, path: str | None) -> ScanSpec:
    def stated(name: str) -> Setting | None:
        return settings.of_scan(state, name)

    azimuth = build.quantity(stated("azimuth"))
    if azimuth is None:
        azimuth = DEFAULTS["scan.azimuth"].apply(Measured(0.0, "rad"))
    support = build.text(stated("support"))
    window = None
    if (setting := stated("window")) is not None:
        read = build.attempt(lambda: value_of(setting), None)
        window = read if isinstance(read, tuple) else None
    return ScanSpec(
        path=path,
        azimuth=azimuth,
        support=Support(support) if support else None,
        support_radius=build.quantity(stated("support_radius")),
        support_azimuth=build.quantity(stated("support_azimuth")),
        origin=build.quantity(stated("origin")),
        window=window,
        offset=build.quantity(stated("offset")),
        position_scale=_scale(
            build, stated("position_scale_uncertainty"), POSITION_SCALE_UNCERTAINTY
        ),
        height_scale=_scale(build, stated("height_scale_uncertainty"), HEIGHT_SCALE_UNCERTAINTY),
        datum=build.text(stated("datum")),
        height_up=build.word(stated("height_up"), "yes") == "yes",
        reading=_reading(build, stated),
        labels=tuple(
            (name, text) for name in _LABELS if (text := build.text(stated(name))) is not None
        ),
        **{name: _repeatability(build, stated(name), name) for name in REPEATABILITIES},
    )


def _repeatability(build: _Builder, setting: Setting | None, name: str) -> Measured:
    """A stated repeatability r becomes an input of value 0 and standard uncertainty r."""
    if setting is None:
        build.note(f"{spoken(name)}: not stated, taken as 0")
        return Measured(0.0, "m", 0.0, read_as="not stated, taken as 0", source=Source.DEFAULT)
    stated = build.quantity(setting)
    spread = stated.value if stated else 0.0
    return Measured(0.0, "m", spread, stated.dof if stated else float("inf"), read_as="stated")


def _scale(build: _Builder, setting: Setting | None, default: float) -> Measured:
    """A stated relative uncertainty u becomes a scale factor of value 1 and uncertainty u."""
    if setting is None:
        name = "position scale" if default == POSITION_SCALE_UNCERTAINTY else "height scale"
        build.note(f"{name}: no uncertainty stated, default ± {default * 100:g} % used")
        return Measured(1.0, "1", default, read_as=f"± {default * 100:g} %", source=Source.DEFAULT)
    stated = build.quantity(setting)
    return Measured(1.0, "1", stated.value if stated else default, read_as="stated")


def reading_options(**stated: str | None) -> ReadingOptions:
    """Reading options from the options of a command, None where not given.

    Raises
    ------
    RefusedInput
        If one cannot be read.
    """
    build = _Builder()
    keys = {key.name: key for key in all_keys() if key.table == "scan"}
    settings = {
        name: Setting(keys[name], raw, "--" + name.replace("_", "-"), "")
        for name, raw in stated.items()
        if raw is not None
    }
    options = _reading(build, settings.get)
    if build.faults:
        raise build.faults[0] if len(build.faults) == 1 else Faults(build.faults)
    return options


def _reading(build: _Builder, stated: Callable[[str], Setting | None]) -> ReadingOptions:
    interval = build.quantity(stated("interval"))
    return ReadingOptions(
        position_unit=build.text(stated("position_unit")),
        height_unit=build.text(stated("height_unit")),
        decimal=build.text(stated("decimal")),
        columns=build.text(stated("columns")),
        interval=interval.value if interval else None,
    )
