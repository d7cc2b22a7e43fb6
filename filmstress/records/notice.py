"""Warnings and refusals: a closed list of codes, and the notice that carries one."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class WarningCode(StrEnum):
    """Codes of warnings; the README's reference part says what each means."""

    AZIMUTHS_DIFFER = "azimuths-differ"
    DEFAULT_USED = "default-used"
    DUST_POINTS_DOWN = "dust-points-down"
    EQUIBIAXIAL_ASSUMED = "equibiaxial-assumed"
    FIRST_ORDER_FAILS = "first-order-fails"
    INTERVAL_WIDENED = "interval-widened"
    INPUT_UNUSED = "input-unused"
    LARGE_DEFLECTION = "large-deflection"
    LOW_MATCH = "low-match"
    MASKED_SHARE = "masked-share"
    NOMINAL_THICKNESS = "nominal-thickness"
    NOT_A_PARABOLA = "not-a-parabola"
    OFFSET_DIFFERS = "offset-differs"
    ROWS_LEFT_OUT = "rows-left-out"
    SAG_NOT_SMALL = "sag-not-small"
    STAGE_WAVINESS = "stage-waviness"
    STEP_CUT_SHORT = "step-cut-short"
    STEPS_DIFFER = "steps-differ"
    SUPPORT_ASSUMED = "support-assumed"
    SWAP_SUSPECTED = "swap-suspected"
    THICK_FILM = "thick-film"
    UNCERTAINTY_NOT_ESTABLISHED = "uncertainty-not-established"
    UNEVEN_STRESS = "uneven-stress"
    UNUSUAL_STRESS = "unusual-stress"
    WEIGHT_DIFFERS = "weight-differs"
    WEIGHT_UNUSABLE = "weight-unusable"


class RefusalCode(StrEnum):
    """Codes of refusals: the data were read, but no stress may be stated from them."""

    BEYOND_BIFURCATION = "beyond-bifurcation"
    BOTH_FACES = "both-faces"
    CLAMPED = "clamped"
    FLAT_STAGE_SAG = "flat-stage-sag"
    NO_STEP = "no-step"
    NOT_MEASURED = "not-measured"
    SUBSTRATE_UNKNOWN = "substrate-unknown"
    SAME_SCAN = "same-scan"
    SUPPORT_UNKNOWN = "support-unknown"
    TOO_FEW_POINTS = "too-few-points"
    UNREADABLE = "unreadable"
    NO_OVERLAP = "no-overlap"


@dataclass(frozen=True, slots=True)
class Notice:
    """A warning or a refusal: its code and a sentence in plain words."""

    code: WarningCode | RefusalCode
    message: str
