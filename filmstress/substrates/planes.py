"""Miller indices of planes and directions, and the vectors they stand for.

Crystal Cartesian axes: X along a1, Z along c, Y = Z x X.  In cubic crystals [hkl] is the normal of
(hkl).  In hexagonal and trigonal crystals planes have four indices (hkil) with i = -(h + k), and
directions four indices [uvtw] with t = -(u + v); a2 lies at 120 deg from a1.
"""

from __future__ import annotations

import math
import re
from itertools import permutations

from filmstress.errors import SubstrateError

Vector = tuple[float, float, float]
Indices = tuple[int, ...]

# A longer text names no plane, and its digits are no indices.
_LONGEST = 100
_COMPACT = re.compile(r"(?:-?\d){3,4}")
_SPACED = re.compile(r"-?\d+(?:[\s,]+-?\d+){2,3}")


def read_indices(text: str) -> Indices | None:
    """Three or four Miller indices, "1-10" or "1 -1 0"; None where the text is something else."""
    text = text.strip().replace("−", "-")
    if len(text) > _LONGEST:
        return None
    if _COMPACT.fullmatch(text):
        numbers = re.findall(r"-?\d", text)
    elif _SPACED.fullmatch(text):
        numbers = re.findall(r"-?\d+", text)
    else:
        return None
    indices = tuple(map(int, numbers))
    common = math.gcd(*indices)
    return tuple(index // common for index in indices) if common else indices


def write_indices(indices: Indices) -> str:
    """Write indices as `read_indices` reads them: "1-10", "1 -1 10" with two-digit ones."""
    return ("" if all(abs(index) < 10 for index in indices) else " ").join(map(str, indices))


def plane_indices(indices: Indices, system: str, name: str) -> Indices:
    """Check the indices of a plane: three in cubic crystals, four in the others.

    Raises
    ------
    SubstrateError
        If they are all zero, of the wrong number, or the third of four is not -(h + k).
    """
    if not any(indices):
        raise SubstrateError(f"'{name}' names no plane: all indices are zero")
    if system == "cubic":
        if len(indices) != 3:
            raise SubstrateError(
                f"'{name}' has {len(indices)} indices; a plane of a cubic crystal has three",
                hint="write (001), (111), (1-10)",
            )
        return indices
    if len(indices) == 3:
        # (128) of lithium niobate would be read as a plane, where 128Y was meant.
        h, k, last = indices
        raise SubstrateError(
            f"'{name}' has 3 indices; a plane of a {system} crystal has four",
            hint=f"write ({write_indices((h, k, -(h + k), last))}) if that is the plane",
        )
    _check_third(indices, name)
    return indices


def direction_indices(indices: Indices, system: str, name: str) -> Indices:
    """Check the indices of a direction: three in cubic crystals, four in the others.

    Raises
    ------
    SubstrateError
        If they are all zero, of the wrong number, or the third of four is not -(u + v).
    """
    wanted = 3 if system == "cubic" else 4
    if len(indices) != wanted:
        raise SubstrateError(
            f"'{name}' has {len(indices)} indices; a direction of a {system} crystal is written "
            f"with {wanted}",
            hint="write [110] or [1-10]" if wanted == 3 else "write [11-20], [10-10], or X, Y, Z",
        )
    if not any(indices):
        raise SubstrateError(f"'{name}' names no direction: all indices are zero")
    if wanted == 4:
        _check_third(indices, name)
    return indices


def plane_normal(indices: Indices, axial_ratio: float) -> Vector:
    """Compute the unit normal of a plane; four indices are on hexagonal axes of this c/a."""
    if len(indices) == 3:
        return unit((float(indices[0]), float(indices[1]), float(indices[2])))
    h, k, _, last = indices
    # Along h a1* + k a2* + l c*, in units of 1/a.
    return unit((float(h), (h + 2.0 * k) / math.sqrt(3.0), last / axial_ratio))


def direction_vector(indices: Indices, axial_ratio: float) -> Vector:
    """Compute the unit vector along a direction; four indices as in `plane_normal`."""
    if len(indices) == 3:
        return unit((float(indices[0]), float(indices[1]), float(indices[2])))
    u, v, t, w = indices
    # Along u a1 + v a2 + t a3 + w c, in units of a.
    return unit((u - 0.5 * (v + t), 0.5 * math.sqrt(3.0) * (v - t), w * axial_ratio))


def in_plane_indices(plane: Indices) -> Indices:
    """Choose a low-index direction in a plane, in the basal plane too: [110] in (001)."""
    h, k = plane[0], plane[1]
    if len(plane) == 3:
        return _reduced((k, -h, 0)) if h or k else (1, 1, 0)
    if not (h or k):
        return (2, -1, -1, 0)
    # -k a1 + h a2 is perpendicular to h a1* + k a2*.
    return _reduced((-2 * k - h, 2 * h + k, k - h, 0))


def relative_in_plane(direction: Indices, plane: Indices) -> Indices | None:
    """Find a direction of the same kind that lies in the plane, or None.

    In four indices h u + k v + i t + l w vanishes for a direction in the plane, as with three.
    """
    if len(direction) == 3:
        candidates = [
            (a * sa, b * sb, c * sc)
            for a, b, c in permutations(direction)
            for sa in (1, -1)
            for sb in (1, -1)
            for sc in (1, -1)
        ]
        related: list[Indices] = sorted(candidates, reverse=True)
    else:
        related = sorted(
            (
                (s * a, s * b, s * c, z * direction[3])
                for a, b, c in permutations(direction[:3])
                for s in (1, -1)
                for z in (1, -1)
            ),
            reverse=True,
        )
    for candidate in related:
        if sum(p * d for p, d in zip(plane, candidate, strict=True)) == 0:
            return candidate
    return None


def unit(vector: Vector) -> Vector:
    """Scale a vector to length one."""
    length = math.hypot(*vector)
    return vector[0] / length, vector[1] / length, vector[2] / length


def dot(a: Vector, b: Vector) -> float:
    """Compute the scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def add(a: Vector, b: Vector, *, times: float = 1.0) -> Vector:
    """Add ``times b`` to ``a``."""
    return a[0] + times * b[0], a[1] + times * b[1], a[2] + times * b[2]


def _check_third(indices: Indices, name: str) -> None:
    first, second, third, last = indices
    if third != -(first + second):
        right = write_indices((first, second, -(first + second), last))
        raise SubstrateError(
            f"the third of four indices in '{name}' is minus the sum of the first two",
            hint=f"did you mean {right}?",
        )


def _reduced(indices: Indices) -> Indices:
    common = math.gcd(*indices)
    return tuple(index // common for index in indices)
