"""A stack for readers: words for a terminal, a table, and JSON."""

from __future__ import annotations

from collections.abc import Iterator

from filmstress.records.notice import WarningCode
from filmstress.records.quantity import Estimate
from filmstress.records.stack import BalanceFound, Known, Layer, Recorded, StackResult, StateFound
from filmstress.report.budget_data import budget_data
from filmstress.report.columns import columns
from filmstress.report.quantities import (
    Data,
    bare_data,
    headed,
    measured_data,
    notices_data,
    quantity_data,
)
from filmstress.report.text import CAUTION, WIDTH, row, wrapped
from filmstress.report.words import printable, say_estimate, say_plus_minus, say_value
from filmstress.stats.budget import most_worth_improving

TABLE_HEADS = (
    "state",
    "step",
    "layer",
    "face",
    "known",
    "stress [Pa]",
    "stress_u [Pa]",
    "thermal_stress [Pa]",
    "thermal_stress_u [Pa]",
    "intrinsic_stress [Pa]",
    "intrinsic_stress_u [Pa]",
    "force_per_width [N/m]",
    "force_per_width_u [N/m]",
    "sum_of_forces [N/m]",
    "sum_of_forces_u [N/m]",
    "bow [m]",
    "bow_low [m]",
    "bow_high [m]",
    "bow_known",
)
_FACES = {1: "scanned face", -1: "other face"}
_LONGEST = 22
_FEW_LOTS = 4


def stack_text(result: StackResult) -> str:
    """Everything about a stack, for people."""
    blocks = [
        list(_head(result)),
        list(_steps(result)),
        list(_wafer(result)),
        list(_parts(result)),
        list(_balance(result)),
        list(_notices(result)),
        list(wrapped(CAUTION, "", WIDTH)),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def state_name(found: StateFound) -> str:
    """A state's name, short enough for a column."""
    return printable(found.state.name, _LONGEST)


def headline(result: StackResult) -> str:
    """The bow in the end, or what balances it, in one line."""
    last = result.states[-1]
    balance = result.balance
    if balance is not None and balance.thickness is not None:
        return (
            f"{say_estimate(balance.thickness)} of {layer_words(balance.balance.layer)} brings the "
            f"bow to {_target(balance)}"
        )
    if balance is not None and balance.refusal:
        return "No thickness of the layer named balances the bow"
    if last.bow is None:
        return "The bow in the end is not known"
    how = "as scanned" if last.bow_known is Known.MEASURED else "predicted"
    return f"Bow in the end  {say_estimate(last.bow, sign=True)}, {how}"


def layer_words(layer: Layer) -> str:
    """``oxide at −300 MPa on the other face``."""
    recipe = "" if layer.recorded is None else layer.recorded.asked.recipe
    name = printable(layer.film.material or recipe or "film", _LONGEST)
    stress = "" if layer.stress is None else f" at {say_value(layer.stress.value, 'Pa')}"
    return f"{name}{stress} on the {_FACES[layer.face_sign]}"


def _head(result: StackResult) -> Iterator[str]:
    yield from wrapped(headline(result), "", WIDTH)
    substrate = result.stack.substrate
    modulus = say_plus_minus(result.modulus.value, result.modulus.u or 0.0, "Pa")
    yield from wrapped(
        f"{printable(result.stack.name, 60)}: {result.substrate}, "
        f"{say_value(substrate.thickness.value, 'm')} thick, biaxial modulus {modulus}; all "
        "intervals are of 95 %; tension is positive",
        "  ",
        WIDTH,
    )


def step_words(found: StateFound) -> str:
    """What a step did: "oxide on the scanned face", "oxide stripped"."""
    layer, state = found.layer, found.state
    if found.known is None:
        return "as it came"
    name = "" if layer is None else printable(layer.film.material or layer.name, _LONGEST)
    if state.layer is not None and layer is not None:
        return f"{name}, {_FACES[layer.face_sign]}"
    if state.strips:
        return f"{name} stripped"
    return f"{name} changed" if name else "all layers"


def _steps(result: StackResult) -> Iterator[str]:
    yield "Stress of each layer, as it carries it after its own deposition"
    rows = [("state", "step", "stress", "force per width", "source")]
    for found in result.states[1:]:
        known = "" if found.known is None else found.known.value
        if found.known is not None and found.force is None:
            known = "not told, see below"
        rows.append(
            (
                state_name(found),
                step_words(found),
                say_or_dash(found.stress),
                say_or_dash(found.force),
                known,
            )
        )
    yield from columns(rows, gap=2)
    layers = [found.state.layer for found in result.states if found.state.layer is not None]
    yield from (line for layer in layers for line in recorded_lines(layer, layer.name))
    if any(one.state.layer is None for one in result.states[1:]):
        yield from wrapped(
            "force per width: what the step added, a layer on the other face with the opposite "
            "sign; stress of a strip: what the layer carried; of another step: its change",
            "  ",
            WIDTH,
        )
    else:
        yield "  force per width: a layer on the other face counts with the opposite sign"


def recorded_lines(layer: Layer, name: str) -> Iterator[str]:
    """Which lots a layer's stress was taken from, where it was."""
    told = layer.recorded
    if told is None:
        return
    lots = f"{told.wafers} wafers of {len(told.lots)} lots"
    scatter = f"wafers scatter by {say_value(told.spread, 'Pa', 2)}"
    if told.within is not None:
        scatter += f" (within a lot by {say_value(told.within, 'Pa', 2)})"
    few = ""
    if len(told.lots) < _FEW_LOTS:
        few = ", and wide, for so few lots tell little of how lots differ"
    yield from wrapped(
        f"{printable(name, _LONGEST)}: recipe {printable(told.asked.recipe, 60)} from the history: "
        f"{lots}; {scatter}; the interval is that of a next wafer{few}",
        "  ",
        WIDTH,
    )


def _wafer(result: StackResult) -> Iterator[str]:
    yield f"The wafer after each step; bow over {say_value(result.length, 'm')}, positive: a bowl"
    beside = any(found.bow_predicted is not None for found in result.states)
    heads = ("state", "sum of forces", "bow", "source")
    rows = [(*heads, "predicted from what is stated") if beside else heads]
    for found in result.states:
        cells = (
            state_name(found),
            say_or_dash(found.total),
            say_or_dash(found.bow),
            _bow_known(found, result),
        )
        more = "" if found.bow_predicted is None else say_estimate(found.bow_predicted, sign=True)
        rows.append((*cells, more) if beside else cells)
    yield from columns(rows, gap=2)


def _bow_known(found: StateFound, result: StackResult) -> str:
    if found.bow is None:
        return "not known"
    if found.bow_known is Known.STATED and result.stack.bare_bow is None:
        return "taken as flat"
    return found.bow_known.value


def _parts(result: StackResult) -> Iterator[str]:
    told = [found for found in result.states if found.thermal is not None]
    if not told:
        return
    yield "Thermal and intrinsic stress"
    rows = [("state", "thermal", "intrinsic")]
    rows += [
        (state_name(found), say_or_dash(found.thermal), say_or_dash(found.intrinsic))
        for found in told
    ]
    yield from columns(rows, gap=2)
    yield from wrapped(
        "thermal: what cooling from deposition makes of an elastic film; a metal yields before it "
        "carries much of that; intrinsic is the rest",
        "  ",
        WIDTH,
    )


def _balance(result: StackResult) -> Iterator[str]:
    found = result.balance
    if found is None:
        if result.stack.balance is not None:
            yield "The layer that balances the bow is not told: the bow in the end is not known"
        return
    yield f"Layer that brings the bow to {_target(found)}: {layer_words(found.balance.layer)}"
    if found.thickness is None or found.budget is None:
        yield from wrapped(found.refusal, "  ", WIDTH)
        return
    yield from recorded_lines(found.balance.layer, "balancing layer")
    yield row("  thickness", say_estimate(found.thickness))
    yield row("  bow with it", say_or_dash(found.bow), "as thick as told, exactly")
    worst = most_worth_improving(found.budget)
    if worst is not None:
        share = f"{worst.share:.0%}".replace("%", " %")
        yield row("  most worth improving", f"{worst.term.input} ({share} of the variance)")
    if found.thickness.low is not None and found.thickness.low <= 0.0:
        yield "  the interval reaches zero: the bow may be there already"


def _notices(result: StackResult) -> Iterator[str]:
    for head, used in (("Defaults used", True), ("Warnings", False)):
        those = [n for n in result.warnings if (n.code is WarningCode.DEFAULT_USED) is used]
        if those:
            yield head
        for notice in those:
            yield from wrapped(notice.message, "  - " if used else f"  {notice.code}: ", WIDTH)


def _target(found: BalanceFound) -> str:
    target = found.balance.target.value
    return say_value(target, "m") if target else "0 um"


def say_or_dash(estimate: Estimate | None) -> str:
    """An estimate; a plain 0 for what was taken as none, a dash for what is not known."""
    if estimate is None:
        return "-"
    exact = not estimate.value and not estimate.u
    return "0" if exact else say_estimate(estimate, sign=True)


def table_rows(result: StackResult) -> Iterator[tuple[object, ...]]:
    """One row a state under `TABLE_HEADS`."""
    for found in result.states:
        bow = found.bow
        yield (
            found.state.name,
            _kind(found),
            None if found.layer is None else found.layer.name,
            None if found.layer is None else found.layer.film.face.value,
            None if found.known is None else found.known.value,
            *_pair(found.stress),
            *_pair(found.thermal),
            *_pair(found.intrinsic),
            *_pair(found.force),
            *_pair(found.total),
            *((None, None, None) if bow is None else (bow.value, bow.low, bow.high)),
            found.bow_known.value,
        )


def _pair(estimate: Estimate | None) -> tuple[float | None, float | None]:
    return (None, None) if estimate is None else (estimate.value, estimate.u)


def _kind(found: StateFound) -> str:
    if found.known is None:
        return "first"
    return "layer" if found.state.layer else "strip" if found.state.strips else "change"


def stack_data(result: StackResult, version: str) -> Data:
    """A stack as one JSON object."""
    stack = result.stack
    return {
        **headed("stack", version),
        "inputs": {
            "name": stack.name,
            "file": {"path": stack.path, "sha256": stack.sha256},
            "substrate": result.substrate,
            "substrate_thickness": measured_data(stack.substrate.thickness),
            "substrate_expansion": measured_data(stack.substrate_expansion),
            "bare_bow": measured_data(stack.bare_bow),
        },
        "substrate_modulus": measured_data(result.modulus),
        "length": bare_data(result.length, "m"),
        "states": [_state_data(found) for found in result.states],
        "balance": None if result.balance is None else _balance_data(result.balance),
        "headline": headline(result),
        "warnings": notices_data(result.warnings),
    }


def _state_data(found: StateFound) -> Data:
    files = () if found.measured is None else found.measured.files
    return {
        "name": found.state.name,
        "step": _kind(found),
        "layer": None if found.layer is None else _layer_data(found.layer),
        "known": None if found.known is None else found.known.value,
        "stress": quantity_data(found.stress),
        "thermal_stress": quantity_data(found.thermal),
        "intrinsic_stress": quantity_data(found.intrinsic),
        "force_per_width": quantity_data(found.force),
        "sum_of_forces": quantity_data(found.total),
        "bow": quantity_data(found.bow),
        "bow_known": found.bow_known.value,
        "bow_predicted": quantity_data(found.bow_predicted),
        "budget": None if found.budget is None else budget_data(found.budget),
        "files": [
            {"state": state, "path": source.path, "sha256": source.sha256}
            for state, source in files
        ],
    }


def _layer_data(layer: Layer) -> Data:
    return {
        "name": layer.name,
        "material": layer.film.material,
        "face": layer.film.face.value,
        "thickness": measured_data(layer.film.thickness),
        "stress": measured_data(layer.stress),
        "recorded": None if layer.recorded is None else _recorded_data(layer.recorded),
        "expansion": measured_data(layer.expansion),
        "deposited_at": measured_data(layer.deposited_at),
        "measured_at": measured_data(layer.measured_at),
    }


def _recorded_data(told: Recorded) -> Data:
    return {
        "recipe": told.asked.recipe,
        "lots_asked": list(told.asked.lots),
        "since": told.asked.since or None,
        "until": told.asked.until or None,
        "lots": list(told.lots),
        "wafers": told.wafers,
        "scatter_of_wafers": bare_data(told.spread, "Pa"),
        "scatter_within_lots": bare_data(told.within, "Pa"),
    }


def _balance_data(found: BalanceFound) -> Data:
    return {
        "layer": _layer_data(found.balance.layer),
        "target_bow": measured_data(found.balance.target),
        "thickness": quantity_data(found.thickness),
        "bow": quantity_data(found.bow),
        "budget": None if found.budget is None else budget_data(found.budget),
        "refusal": found.refusal or None,
    }
