"""Settings as written -> a frozen :class:`WaferSpec` in SI, or every fault at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from filmstress.inputs.builder import Builder, spoken
from filmstress.inputs.keys import keys_of
from filmstress.inputs.scan_parts import LineInput, line_spec, reading_of, scale_factor
from filmstress.inputs.settings import Setting, Settings
from filmstress.inputs.wafer_parts import check_sizes, film_spec, substrate_spec
from filmstress.inputs.weighing import check_weighing, with_weighing
from filmstress.records.quantity import Measured
from filmstress.records.scan import ReadingOptions
from filmstress.records.wafer import LineSpec, SubstrateSpec, WaferSpec


def build_wafer(
    wafer_id: str,
    settings: Settings,
    lines: Sequence[LineInput],
    *,
    base: Path | None = None,
    where: str = "",
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
    where : str
        File and wafer, for faults about what is not stated.

    Raises
    ------
    FilmstressError
        The fault, or `Faults` with all of them where there are several.
    """
    build = Builder(where)
    levels = [settings.overlaid(line.settings) for line in lines]
    bare_bow = build.quantity(_of_all(build, levels, "bare_bow"))
    reference = build.word(_of_all(build, levels, "reference"), "before")
    role = build.word(settings.wafer.get("role"), "product")
    substrate = substrate_spec(build, settings, wafer_id)
    film = film_spec(build, settings, wafer_id, stripped=reference == "stripped", base=base)
    check_sizes(build, settings, substrate, film)
    specs = tuple(
        with_weighing(build, level, line_spec(build, level, line, base), line, base)
        for level, line in zip(levels, lines, strict=True)
    )
    gravity, substrate = check_weighing(
        build, _of_all(build, levels, "gravity"), specs, substrate, settings
    )
    _check_supports(build, levels, specs, substrate)
    _check_files(build, lines, has_bow=any(("", "bare_bow") in level.scan for level in levels))
    build.faults.raise_any()
    return WaferSpec(
        id=wafer_id,
        substrate=substrate,
        film=film,
        lines=specs,
        bare_bow=bare_bow,
        reference=reference,
        role=role,
        settings=tuple(_as_written(settings, lines)),
        notes=tuple(build.notes),
        gravity=gravity,
    )


def _of_all(build: Builder, levels: Sequence[Settings], name: str) -> Setting | None:
    """What is stated of a wafer's scans as a whole; it may stand in each line, but alike."""
    stated = [level.scan.get(("", name)) for level in levels]
    told = {None if setting is None else str(setting.raw) for setting in stated}
    first = next((setting for setting in stated if setting is not None), None)
    if first is not None and len(told) > 1:
        build.fault(
            f"the lines of one wafer differ in {spoken(name)}",
            "state it once for the wafer",
            first.where,
        )
    return first


def _check_supports(
    build: Builder,
    levels: Sequence[Settings],
    lines: Sequence[LineSpec],
    substrate: SubstrateSpec,
) -> None:
    if substrate.diameter is None:
        return
    for level, line in zip(levels, lines, strict=True):
        for state in line.states:
            radius, setting = state.scan.support_radius, level.of_scan(state.name, "support_radius")
            if radius and setting and 2.0 * radius.value > substrate.diameter.value:
                build.fault(
                    "the support lies outside the wafer",
                    "support_radius is counted from the wafer's centre; was its diameter meant?",
                    setting.where,
                )


def _check_files(build: Builder, lines: Sequence[LineInput], *, has_bow: bool) -> None:
    if not lines:
        build.fault("no scans are named", "name pre and post")
    first = [line for line in lines if line.paths.get("pre")]
    if has_bow:
        if lines and len(first) == len(lines):
            build.note("bare bow: stated but not used, the scan before deposition takes its place")
        return
    for line in lines:
        if line not in first and "pre" not in line.settings.meant:
            build.fault(
                "the scan before deposition is missing",
                "name it, or state the bare wafer's bow: bare_bow '0 um ± 15 um'",
                line.where,
            )


def _as_written(settings: Settings, lines: Sequence[LineInput]) -> Iterator[tuple[str, str]]:
    """Every setting in the user's words; those of a line under its number."""
    for name, setting in settings.every():
        yield name, _words(setting.raw)
    for number, line in enumerate(lines, start=1):
        for name, setting in line.settings.every():
            yield f"scans.{number}.{name.removeprefix('scan.')}", _words(setting.raw)


def _words(raw: object) -> str:
    if isinstance(raw, Measured):
        spread = "" if raw.u is None else f" ± {raw.u:g} {raw.unit}"
        return f"{raw.value:g} {raw.unit}{spread}"
    if isinstance(raw, bool):
        return "yes" if raw else "no"
    return str(raw)


def reading_options(**stated: str | None) -> ReadingOptions:
    """Reading options from the options of a command, None where not given.

    ``azimuth`` is the direction of the line that is taken from a map.

    Raises
    ------
    RefusedInput
        If one cannot be read.
    """
    build = Builder()
    keys = keys_of("scan")
    settings = {
        name: Setting(keys[name], raw, "--" + name.replace("_", "-"), "")
        for name, raw in stated.items()
        if raw is not None
    }
    azimuth = build.quantity(settings.get("azimuth"))
    options = reading_of(build, settings.get)
    build.faults.raise_any()
    return replace(options, line_azimuth=azimuth.value if azimuth else None)


def height_scale(stated: str | None) -> Measured:
    """Scale factor of the heights from the option of its relative uncertainty, or its default.

    Raises
    ------
    RefusedInput
        If it cannot be read.
    """
    build = Builder()
    name = "height_scale_uncertainty"
    settings = {}
    if stated is not None:
        flag = "--" + name.replace("_", "-")
        settings[name] = Setting(keys_of("scan")[name], stated, flag, "")
    scale = scale_factor(build, settings.get, "height_scale")
    build.faults.raise_any()
    return scale


__all__ = ["LineInput", "build_wafer", "height_scale", "reading_options"]
