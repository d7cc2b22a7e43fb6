"""Every state of a stack: the stress of each layer, the forces so far, the bow, the balance."""

from __future__ import annotations

import math

from filmstress.measure.lines import Read
from filmstress.measure.wafer import measure_wafer
from filmstress.records.quantity import Measured
from filmstress.records.result import StressResult
from filmstress.records.stack import StackResult, StackSpec
from filmstress.scans.reading.scan_file import read_scan
from filmstress.stacks.balancing import balance_of
from filmstress.stacks.parts import StackPlate, Told
from filmstress.stacks.walk import Measurements, Walk
from filmstress.stacks.warnings import warnings_of


def measure_stack(
    stack: StackSpec, *, setting: str = "balanced", read: Read = read_scan
) -> StackResult:
    """What every state of a stack tells.

    Parameters
    ----------
    stack : StackSpec
    setting : str
        Setting of the noise model, as in `filmstress.measure.wafer.measure_wafer`.
    read : callable
        Reads a scan from its path.

    Notes
    -----
    A layer's stress is the mean that it carries after its own deposition.  It pulls on the plate
    and the films already there (`filmstress.physics.stack.share_of_stoney`); what it takes from
    their stress, about 4 N/h_s M_f/M_s, is left out.  The sum of forces at a scanned state comes
    from the pair of the first scanned state and this one, so that the noise of the scans between
    drops out.  A bow predicted from a measured one counts that one's gauge as independent of what
    is predicted.  Predictions are those of a linear plate.

    Raises
    ------
    RefusedInput
        A file cannot be used, or two scans cannot be compared.
    """
    plate = StackPlate.of(stack.substrate, stack.azimuths)
    steps = {
        state.name: measure_wafer(state.step, setting=setting, read=read)
        for state in stack.states
        if state.step is not None
    }
    wholes = {
        state.name: measure_wafer(state.whole, setting=setting, read=read, in_brief=True)
        for state in stack.states
        if state.whole is not None
    }
    length = stack.length or _length(next(iter(wholes.values())))
    measurements = Measurements(steps, wholes, length)
    walk = Walk(stack, plate, measurements).through()
    if walk.by_strip:
        # A layer that only its strip has measured is known from the beginning.
        walk = Walk(stack, plate, measurements, walk.by_strip).through()
    return StackResult(
        stack=stack,
        substrate=plate.plate.label,
        modulus=Measured(plate.modulus, "Pa", Told(0.0, plate.modulus_terms).budget().u),
        length=length,
        states=tuple(walk.found),
        balance=None if stack.balance is None else balance_of(stack.balance, plate, walk),
        warnings=tuple(warnings_of(stack, steps, walk.found, length)),
    )


def _length(result: StressResult) -> float:
    return math.fsum(line.change.length for line in result.lines) / len(result.lines)
