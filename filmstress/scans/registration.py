"""Find the scan after deposition on the scan before it, from the waviness both share."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import MeasurementRefused
from filmstress.records.notice import RefusalCode
from filmstress.records.registration import Registration
from filmstress.scans.texture import Texture, _fading, _legendre, _solve, band_sums, bands, prepare

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

LOW_MATCH = 0.6
CHANCE = 1e-3  # a placement counts as found where chance alone would do as well this rarely
OVERLAP = 0.5  # least share of the shorter scan that must lie on the other
STAGE_SHARE = 0.5  # the stage may hold up to this share of what is seen: as much as the wafer


@dataclass(frozen=True, slots=True)
class SharedStage:
    """Placement at which both scans would have stood on the same places of the stage.

    The stage's own straightness error is in every scan at the same stage position, so at this
    placement even scans of different wafers agree in part.

    Attributes
    ----------
    offset_m : float
        Offset of that placement [m].
    reversed : bool
        Whether it is one with the post scan turned end to end.
    """

    offset_m: float = 0.0
    reversed: bool = False


@dataclass(frozen=True, slots=True)
class _Placement:
    offset: float
    reversed: bool
    correlation: float  # of the traces as they are, noise included


def register(
    x_pre: Floats,
    z_pre: Floats,
    x_post: Floats,
    z_post: Floats,
    *,
    search_m: float = 5e-3,
    keep_pre: NDArray[np.bool_] | None = None,
    keep_post: NDArray[np.bool_] | None = None,
    allow_reversed: bool = True,
    stage: SharedStage | None = SharedStage(),
) -> Registration:
    return register_textures(
        prepare(x_pre, z_pre, keep=keep_pre),
        prepare(x_post, z_post, keep=keep_post),
        search_m=search_m,
        allow_reversed=allow_reversed,
        stage=stage,
    )


def register_textures(
    pre: Texture,
    post: Texture,
    *,
    search_m: float = 5e-3,
    allow_reversed: bool = True,
    stage: SharedStage | None = SharedStage(),
) -> Registration:
    step = max(pre.step, post.step)
    pre = pre.brought_to(step_m=step, size=0)
    post = post.brought_to(step_m=step, size=0)
    size = max(pre.size, post.size)
    pair = _Pair(pre.brought_to(step_m=step, size=size), post.brought_to(step_m=step, size=size))
    pair.search(search_m, allow_reversed)
    return pair.decide(stage)


class _Pair:
    def __init__(self, pre: Texture, post: Texture) -> None:
        self.pre, self.post = pre, post
        self.step, self.size = pre.step, pre.size
        gain = pre.filter * post.filter
        power_pre, power_post = np.abs(pre.spectrum) ** 2, np.abs(post.spectrum) ** 2
        self.gain = gain
        self.energy_pre = float(gain @ power_pre)
        self.energy_post = float(gain @ power_post)
        noise = float(gain.sum())
        shared = max(self.energy_pre - noise * pre.noise, 0.0) * max(
            self.energy_post - noise * post.noise, 0.0
        )
        self.seen = math.sqrt(self.energy_pre * self.energy_post)
        self.possible = math.sqrt(shared) / self.seen if self.seen else 0.0
        self.omega = 2.0 * np.pi / (self.size * self.step) * np.arange(gain.size)
        self.power = 0.5 * (power_pre / self.energy_pre + power_post / self.energy_post) * gain if self.seen else gain
        # Spread of the correlation of unlike scans: Bartlett
        counts = np.diff(np.append(bands(self.size), gain.size))
        product = (
            band_sums(gain * power_pre, self.size) * band_sums(gain * power_post, self.size) / counts
        )
        middle = self.omega[bands(self.size)] + 0.5 * (counts - 1) * self.omega[1]
        self.held = min(pre.weight.sum(), post.weight.sum())
        padding = self.size / self.held
        total = float(product.sum())
        self.looks = 2.0 * self.seen**2 / (padding * total) if total else 0.0
        self.bandwidth = math.sqrt(float(middle**2 @ product) / total) if total else 0.0

    def search(self, search: float, allow_reversed: bool) -> None:
        self.search_m = search
        self.turns = (False, True) if allow_reversed else (False,)
        self.curves = {turn: self._curve(turn) for turn in self.turns}
        if not any(np.isfinite(c).any() for _, c in self.curves.values()):
            raise MeasurementRefused(
                "the two scans hardly overlap", code=RefusalCode.NO_OVERLAP,
                hint="check the origins",
            )

    def _lags(self, turn: bool) -> tuple[NDArray[np.intp], Floats]:
        zero = self.pre.first + self.post.first if turn else self.pre.first - self.post.first
        low = math.ceil((-self.search_m - zero) / self.step)
        high = math.floor((self.search_m - zero) / self.step)
        if turn:
            low, high = max(low, 0), min(high, self.size - 2)
        else:
            low = max(low, -(self.size // 2) + 1)
            high = min(high, self.size // 2 - 1)
        k = np.arange(low, high + 1)
        return k, zero + k * self.step

    def cross(self, turn: bool) -> Complex:
        b = self.post.spectrum
        return self.pre.spectrum * (b if turn else b.conj()) * self.gain

    def _curve(self, turn: bool) -> tuple[Floats, Floats]:
        k, offset = self._lags(turn)
        wb = self.post.weight_spectrum
        weights = np.fft.irfft(self.pre.weight_spectrum * (wb if turn else wb.conj()), self.size)[k]
        if not k.size or not self.seen:
            return offset, np.full(k.size, np.nan if not self.seen else 0.0)
        lagged = np.fft.irfft(self.cross(turn), self.size)[k]
        self.scale = self.size / 2 / self.seen
        shared = np.maximum(weights, 1e-9)
        ok = weights >= OVERLAP * self.held
        full = math.sqrt(self.pre.weight.sum() * self.post.weight.sum())
        return offset, np.where(ok, lagged * self.scale * full / shared, np.nan)

    def best(self, curves) -> _Placement | None:
        found = None
        for turn, (offset, curve) in curves.items():
            if curve.size and np.isfinite(curve).any():
                i = int(np.nanargmax(curve))
                if found is None or curve[i] > found.correlation:
                    found = _Placement(float(offset[i]), turn, float(curve[i]))
        return found

    def by_chance(self, r: float) -> float:
        if r <= 0.0 or self.looks <= 2:
            return 1.0
        fades = max(1.0 - min(r, 1.0) ** 2, 1e-12) ** (0.5 * self.looks)
        return -math.expm1(-self.tries() * fades)

    def tries(self) -> float:
        return len(self.turns) * (0.5 + self.search_m * self.bandwidth / math.pi)

    def chance_level(self) -> float:
        """Correlation that unlike scans reach about once in a search."""
        if self.looks <= 2: return 1.0
        return math.sqrt(1.0 - self.tries() ** (-2.0 / self.looks))

    def without(self, main: _Placement):
        """Curves without the main placement's own peak and sidelobes."""
        auto = np.fft.irfft(self.power, self.size) * self.size / 2
        out = dict(self.curves)
        offset, curve = out[main.reversed]
        k = np.rint((offset - main.offset) / self.step).astype(np.intp)
        out[main.reversed] = offset, curve - main.correlation * auto[k]
        return out

    def at(self, curves, place: SharedStage) -> float:
        if place.reversed not in curves: return 0.0
        offset, curve = curves[place.reversed]
        if not offset.size or not offset[0] <= place.offset_m <= offset[-1]: return 0.0
        v = curve[int(round((place.offset_m - offset[0]) / self.step)) if offset.size > 1 else 0]
        return float(v) if np.isfinite(v) else 0.0

    def decide(self, stage):
        texture = self.by_chance(self.possible) < CHANCE
        nothing = Registration(0.0, self.search_m/math.sqrt(3), math.inf, False, 0.0, 0.0, False, False, self.search_m)
        if not texture: return nothing
        main = self.best(self.curves)
        width = 2.0 / self.bandwidth
        rest = self.without(main)
        def near(p, q): return p is not None and p.reversed == q.reversed and abs(p.offset - q.offset_m) < width
        def away(curves, places):
            out = {}
            for t, (o, c) in curves.items():
                c = c.copy()
                for turn, off in places:
                    if turn == t: c[np.abs(o - off) < width] = np.nan
                out[t] = (o, c)
            return out
        chance = self.chance_level() / self.possible
        debias = lambda rho, one=1.0: math.sqrt(max(0.0, min(1.0, (rho**2 - chance**2) / max(one**2 - chance**2, 1e-3)))) if rho > 0 else 0.0
        stage_part = 0.0
        winner = main
        if stage is not None and near(main, stage):
            second = self.best(away(rest, [(stage.reversed, stage.offset_m), (main.reversed, main.offset)]))
            if second is not None and self.by_chance(second.correlation) < CHANCE:
                winner = second
                stage_part = main.correlation / self.possible
                match = debias(winner.correlation / self.possible, max(1 - STAGE_SHARE, 1 - stage_part))
            else:
                match = min(1.0, max(0.0, (main.correlation / self.possible - STAGE_SHARE) / (1 - STAGE_SHARE)))
        else:
            if stage is not None:
                stage_part = max(0.0, self.at(rest, stage) / self.possible)
            match = debias(main.correlation / self.possible, max(1 - STAGE_SHARE, 1 - stage_part))
        places = [(winner.reversed, winner.offset)]
        if stage is not None: places.append((stage.reversed, stage.offset_m))
        other = self.best(away(self.curves, places))
        runner = debias(other.correlation / self.possible) if other else 0.0
        determined = self.by_chance(winner.correlation) < CHANCE
        if not determined:
            return Registration(0.0, self.search_m/math.sqrt(3), math.inf, False, match, runner, True, False, self.search_m)
        off, u, dof = self.refine(winner, stage, stage_part, match)
        if match < LOW_MATCH: u, dof = self.search_m/math.sqrt(3), math.inf
        return Registration(off, u, dof, winner.reversed, match, runner, True, True, self.search_m)

    def refine(self, place, stage, stage_part, match):
        pre, post = self.pre, self.post
        h = self.step
        zero = pre.first + post.first if place.reversed else pre.first - post.first
        if place.reversed:  # post[j] lies at bin k - j
            zero = pre.first + post.first
            flip = post.heights[::-1]; wflip = post.weight[::-1]; vflip=post.share[::-1]
            # flipped index j' = n-1-j ; i = k - j = k-(n-1)+j'
            base = post.heights.size - 1
        else:
            zero = pre.first - post.first
            flip, wflip, base = post.heights, post.weight, 0
        k = round((place.offset - zero) / h)
        na, nb = pre.heights.size, flip.size
        counts = np.diff(np.append(bands(self.size), self.gain.size))
        for _ in range(5):
            shift = k - base  # i = j' + shift
            lo, hi = max(0, shift), min(na, nb + shift)
            p = pre.heights[lo:hi]; q = flip[lo - shift:hi - shift]
            basis = _legendre(na)[lo:hi]
            ok = np.ones(p.size, bool)
            wt = _fading(ok)
            pq = np.stack((p, q), axis=1)
            pq = pq - basis @ _solve(basis, pq)
            P, Q = np.fft.rfft(pq.T * wt, self.size)
            D, G = Q - P, 0.5 * (P + Q)
            iwG = 1j * self.omega * G
            d2 = np.abs(D)**2
            Nn = band_sums(d2, self.size) / counts
            GG = band_sums(np.abs(G)**2, self.size) / counts
            delta = 0.0
            for _ in range(2):
                E = D - delta * iwG
                Nn = band_sums(np.abs(E)**2, self.size) / counts
                T = np.maximum(GG - 0.25 * Nn, 0.0)
                V = T / ((T + 0.25 * Nn) * np.maximum(Nn, 1e-12 * GG.max()))
                V[0.25*Nn > T] = 0.0
                W = np.repeat(V, counts); W = np.concatenate(([0.0], W))
                cross = np.real(np.conj(iwG) * D)
                info = float((W * self.omega**2 * np.abs(G)**2).sum() - 0.25 * (W * self.omega**2)[1:] @ np.repeat(Nn, counts))
                if info <= 0: break
                delta = float(W @ cross) / info
            # q(x) = f(x - ?): D = q - p = delta * f' -> q(x) = p(x + delta): post at x lies on pre x + delta
            if abs(delta) <= 0.5 * h or info <= 0: break
            knew = k + (round(delta / h) if abs(delta) < 20*h else int(np.sign(delta))*20)
            if knew == k: break
            k = knew
        if info <= 0: return zero + k*h, self.search_m/math.sqrt(3), math.inf
        sc = W * np.real(np.conj(iwG) * E)
        held = wt.sum()**2 / (wt**2).sum()
        padding = self.size / held
        var = padding * float((sc**2).sum()) / info**2
        dof = max(2.0, 3 * float((sc**2).sum())**2 / float((sc**4).sum()) / padding)
        off = zero + k * h + delta
        ea = self.gain @ np.abs(P)**2 - self.gain.sum() * pre.noise * held/ pre.weight.sum()
        eb = self.gain @ np.abs(Q)**2 - self.gain.sum() * post.noise * held/ post.weight.sum()
        self.rho = float(self.gain @ np.real(P * np.conj(Q))) / math.sqrt(ea * eb) if ea > 0 and eb > 0 else 0.0
        if stage is not None and stage.reversed == place.reversed:
            gap = abs(off - stage.offset_m)
            rho = min(1.0, self.rho)
            if 0 < gap < 2/self.bandwidth:
                var += min(gap, 2 * (1 - rho) / (self.bandwidth**2 * gap))**2 / 3
        return off, math.sqrt(var), dof
