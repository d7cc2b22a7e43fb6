"""Where the scan after deposition lies on the scan before it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Registration:
    """Placement of one scan on another, found from the waviness both share.

    Attributes
    ----------
    offset_m : float
        Where the post scan's x lies on the wafer minus what was stated [m]; 0 where the texture
        does not fix it.
    u_offset_m : float
        Standard uncertainty of the offset [m]; that of the whole search range (rectangular) where
        the offset is not determined or the match is low.
    dof : float
        Degrees of freedom of ``u_offset_m``.
    reversed : bool
        Whether the post scan was taken from the other end: it then lies at ``offset_m - x``.
    match : float
        Share, 0 to 1, of the wafer's waviness that the two scans have in common at this placement.
    runner_up : float
        Correlation, 0 to 1, of the best placement elsewhere.
    texture : bool
        Whether both scans carry enough waviness above their noise to tell one placement from
        another; without it ``match`` says nothing.
    determined : bool
        Whether the texture fixes the offset.
    search_m : float
        Offsets from -search_m to +search_m were tried [m].
    """

    offset_m: float
    u_offset_m: float
    dof: float
    reversed: bool
    match: float
    runner_up: float
    texture: bool
    determined: bool
    search_m: float

    def on_wafer(self, x: NDArray[np.float64]) -> NDArray[np.float64]:
        """Wafer coordinates [m] of points of the post scan, in the order given."""
        return self.offset_m - x if self.reversed else self.offset_m + x
