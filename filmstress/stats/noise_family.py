"""The family of residual noises that a fit is averaged over: white plus exponentially correlated.

The covariance of block means is V = q W + (1 - q) C, with W the white part (inverse to the points
in a block) and C that of an Ornstein-Uhlenbeck process, exp(-|h| / l) (Uhlenbeck & Ornstein, 1930,
doi 10.1103/PhysRev.36.823), averaged over the blocks and scaled to unit variance of a block mean.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Correlation lengths as parts of the trace, and white shares.  Steps twice as fine change the
# length of the interval by 1 %.
_LENGTHS = 0.01 * np.exp(0.5 * np.arange(14))
_WHITE_SHARES = np.concatenate([[0.0], 1.0 / (1.0 + np.exp(-np.arange(-6.5, 7.0))), [1.0]])


@dataclass(frozen=True, slots=True, eq=False)
class NoiseFamily:
    """The members, each with the filter that turns its noise into independent unit variates.

    The process at the end of a block sums up all that earlier blocks say about later ones, so a
    Kalman filter (Kalman 1960, doi 10.1115/1.3662552) of that one value whitens the block means
    exactly, whatever their counts and wherever blocks are missing.  All members run side by side.

    Attributes
    ----------
    length : ndarray, shape (members,)
        Correlation length over the trace's length [1].
    white_share : ndarray, shape (members,)
        q [1].
    block_variance : ndarray, shape (members,)
        Variance of a block mean of the unit-variance process [1].
    log_det : ndarray, shape (members,)
        ln |V|.
    expected : ndarray, shape (members,)
        What is expected of a block mean per unit of the process at the block's beginning.
    root : ndarray, shape (m, members)
        One over the standard deviation of each block mean about what was expected.
    kept, gain : ndarray, shape (m, members)
        What the process at the next block's beginning keeps of this one's, and what it learns
        from this block's mean.
    """

    length: Floats
    white_share: Floats
    block_variance: Floats
    log_det: Floats
    expected: Floats
    root: Floats
    kept: Floats
    gain: Floats

    def whiten(self, columns: Floats) -> Floats:
        """Turn V into the unit matrix.

        Parameters
        ----------
        columns : ndarray, shape (m, c)
            Block means of c traces or regressors.

        Returns
        -------
        ndarray, shape (m, c, members)
        """
        means = columns[:, :, None]
        # What each block leaves to the next is summed up first; all else is done for all at once.
        state = np.empty((len(columns), columns.shape[1], self.length.size))
        state[0] = 0.0
        np.multiply(self.gain[:-1, None], means[:-1], out=state[1:])
        work = np.empty_like(state[0])
        for kept, before, after in zip(self.kept, state, state[1:], strict=False):
            np.multiply(kept, before, out=work)
            after += work
        whitened: Floats = np.multiply(self.expected, state, out=state)
        np.subtract(means, whitened, out=whitened)
        whitened *= self.root[:, None]
        return whitened


def noise_family(blocks: int, index: NDArray[np.intp], count: Floats) -> NoiseFamily:
    """Members of the family for block means over ``count`` points each.

    Parameters
    ----------
    blocks : int
        Number of equal stretches.
    index, count : ndarray, shape (m,)
        Which stretches are filled, and with how many points.
    """
    if index.size == blocks and count.max() == count.min():
        index, count = np.arange(blocks), np.ones(blocks)
    return _family(blocks, index.astype(np.intp).tobytes(), count.astype(np.float64).tobytes())


@lru_cache(maxsize=16)
def _family(blocks: int, index: bytes, count: bytes) -> NoiseFamily:
    """Kept, for one trace asks for its family several times, and alike scans for the same."""
    return _filter(blocks, np.frombuffer(index, np.intp), np.frombuffer(count, np.float64))


def _filter(blocks: int, index: NDArray[np.intp], count: Floats) -> NoiseFamily:
    length = np.repeat(_LENGTHS, _WHITE_SHARES.size)
    q = np.tile(_WHITE_SHARES, _LENGTHS.size)
    r = 1.0 / (blocks * length)
    lost = -np.expm1(-r)
    kept = 1.0 - lost
    # The mean m of a block and the process e at its end, given the process at its beginning:
    # E m = lost / r, var m = (2 (r - lost) - lost^2) / r^2, var e = 1 - kept^2, and their
    # covariance is lost^2 / r.  Unconditionally var m = 2 (r - lost) / r^2.
    block_variance = 2.0 * (r - lost) / r**2
    share = (1.0 - q) / block_variance
    mean_variance = share * (2.0 * (r - lost) - lost**2) / r**2
    end_variance = lost * (1.0 + kept)
    covariance = np.sqrt(share) * lost**2 / r
    expected = np.sqrt(share) * lost / r
    white = count.mean() / count
    missing = np.diff(index, append=blocks) - 1
    spread = np.ones_like(r)
    root, keep, learn, log_det = [], [], [], np.zeros_like(r)
    for noise, skipped in zip(white, missing, strict=True):
        variance = expected**2 * spread + mean_variance + q * noise
        gain = (kept * expected * spread + covariance) / variance
        spread = kept**2 * spread + end_variance - gain**2 * variance
        gap = kept**skipped
        spread = 1.0 - gap**2 * (1.0 - spread)
        log_det += np.log(variance)
        root.append(1.0 / np.sqrt(variance))
        keep.append(gap * (kept - gain * expected))
        learn.append(gap * gain)
    return NoiseFamily(
        length=length,
        white_share=q,
        block_variance=block_variance,
        log_det=log_det,
        expected=expected,
        root=np.array(root),
        kept=np.array(keep),
        gain=np.array(learn),
    )
