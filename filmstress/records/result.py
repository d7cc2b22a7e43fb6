"""The result of measuring one wafer."""

from __future__ import annotations

from dataclasses import dataclass

from filmstress.records.budget import Budget
from filmstress.records.curvature import CurvatureChange
from filmstress.records.notice import Notice
from filmstress.records.propagated import MonteCarlo
from filmstress.records.quantity import Estimate, Measured
from filmstress.records.scan import ScanSource
from filmstress.records.uneven import UnevenStress
from filmstress.records.wafer import WaferSpec
from filmstress.records.weighing import WeightCalibration


@dataclass(frozen=True, slots=True)
class DirectionalStress:
    """Normal stress in the film along one azimuth [rad], and its budget."""

    azimuth: float
    stress: Estimate
    budget: Budget


@dataclass(frozen=True, slots=True)
class PrincipalStresses:
    """Largest and smallest normal stress [Pa], and the azimuth of the largest [rad].

    The azimuth's uncertainty is None where the two are too alike to have an axis.
    """

    high: Estimate
    low: Estimate
    axis: Estimate


@dataclass(frozen=True, slots=True)
class SubstrateUsed:
    """The substrate as it entered the computation.

    Attributes
    ----------
    label : str
        "Si(001)", or "stated constants".
    modulus : Measured
        Biaxial modulus that the fitted lines see [Pa].
    stiffness : tuple of 3 tuples of 3 floats
        Plane-stress stiffness Q in axes (0 deg, 90 deg, shear) [Pa].
    edition : str
        Edition of the substrate table; empty for stated constants.
    sources : tuple of str
        Where the constants come from.
    """

    label: str
    modulus: Measured
    stiffness: tuple[tuple[float, ...], ...]
    edition: str
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class StressResult:
    """Everything found about one wafer; what could not be found is None.

    Attributes
    ----------
    wafer : WaferSpec
        What was asked.
    substrate : SubstrateUsed
        What stood for the substrate.
    files : tuple of (str, ScanSource)
        State name and provenance of every file read.
    stress : Estimate or None
        Mean stress that the film now carries (relaxed mean) [Pa]: the mean of the normal stresses
        along the fitted lines.  None where refused or where the film's thickness is not stated.
    stress_by_direction : tuple of DirectionalStress
        Along each fitted azimuth.
    stress_stoney : Estimate or None
        The plain Stoney equation, without any correction [Pa].
    stress_mismatch : Estimate or None
        Stress the film would carry on a rigid substrate [Pa]; wants the film's modulus.
    force_per_width : Estimate or None
        Stress times film thickness [N/m].
    curvature_change, curvature_pre, curvature_post : Estimate
        Means over the lines [1/m].
    radius : Estimate or None
        1 / curvature_change [m]; None where its interval includes flat.
    bow_change : Estimate
        Over the length of the scan [m].
    lines : tuple of CurvatureChange
        Each line by itself.
    budget : Budget
        Of the stress, or of the force per width where there is no stress.
    warnings : tuple of Notice
    refusal : Notice or None
        Why no stress may be stated.
    principal : PrincipalStresses or None
        From two or more azimuths.
    monte_carlo : MonteCarlo or None
        Where distributions were propagated.  An output for which the first order fails carries the
        drawn interval in place of its own.
    uneven : UnevenStress or None
        Stress along the scans and the mean over the area; None where refused, or without a scan
        before.
    weight : WeightCalibration or None
        Where the bare wafer was scanned on two supports.
    """

    wafer: WaferSpec
    substrate: SubstrateUsed
    files: tuple[tuple[str, ScanSource], ...]
    stress: Estimate | None
    stress_by_direction: tuple[DirectionalStress, ...]
    stress_stoney: Estimate | None
    stress_mismatch: Estimate | None
    force_per_width: Estimate | None
    curvature_change: Estimate
    curvature_pre: Estimate
    curvature_post: Estimate
    radius: Estimate | None
    bow_change: Estimate
    lines: tuple[CurvatureChange, ...]
    budget: Budget
    warnings: tuple[Notice, ...]
    refusal: Notice | None = None
    principal: PrincipalStresses | None = None
    monte_carlo: MonteCarlo | None = None
    uneven: UnevenStress | None = None
    weight: WeightCalibration | None = None

    @property
    def sense(self) -> str:
        """Tensile, compressive, or not distinguishable from zero."""
        told = self.stress or self.force_per_width
        if told is None:
            return "not stated"
        if told.holds_zero:
            return "not distinguishable from zero"
        return "tensile" if told.value > 0.0 else "compressive"
