"""Uncertain inputs that several results share: what each does to all of them at once."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from filmstress.records.budget import Term
from filmstress.stats.budget import merge_shared

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class SharedInput:
    """One input that at least two results share.

    Attributes
    ----------
    term : Term
        The input as the first result states it.
    effects : ndarray, shape (n,)
        Signed contribution to each result, sensitivity times u [unit of the results]; 0 where a
        result does not depend on it.
    """

    term: Term
    effects: Floats

    def on(self, weights: Floats) -> Term:
        """Its term in the budget of the sum of weights times results."""
        effect = float(weights @ self.effects)
        return replace(self.term, sensitivity=effect / self.term.u if self.term.u else 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class SplitTerms:
    """Terms of n results, parted into what they share and what each has alone.

    Attributes
    ----------
    shared : tuple of SharedInput
        In the order of first appearance.
    own_u : ndarray, shape (n,)
        Standard uncertainty of each result from all the rest [unit of the results].
    """

    shared: tuple[SharedInput, ...]
    own_u: Floats


def split_terms(items: Sequence[Sequence[Term]]) -> SplitTerms:
    """Part the terms of several results into shared inputs and their own uncertainties.

    Parameters
    ----------
    items : sequence of sequences of Term
        Terms of each result.  Terms of equal ``input`` and equal, non-empty ``common_to`` in at
        least two results are one shared input; all others are each result's own.
    """
    merged = [merge_shared(terms) for terms in items]
    count = Counter(_name(one) for terms in merged for one in terms if one.common_to)
    first: dict[tuple[str, str], Term] = {}
    effects: dict[tuple[str, str], Floats] = {}
    own = np.zeros(len(items))
    for i, terms in enumerate(merged):
        for one in terms:
            name = _name(one)
            effect = one.sensitivity * one.u
            if count[name] < 2:
                own[i] = math.hypot(own[i], effect)
                continue
            before = first.get(name)
            # A term with u = 0 cannot carry the effects of the others.
            if before is None or before.u == 0.0:
                first[name] = one
            else:
                first[name] = replace(before, dof=min(before.dof, one.dof))
            effects.setdefault(name, np.zeros(len(items)))[i] = effect
    shared = tuple(SharedInput(first[name], effects[name]) for name in first)
    return SplitTerms(shared, own)


def _name(one: Term) -> tuple[str, str]:
    return one.input, one.common_to
