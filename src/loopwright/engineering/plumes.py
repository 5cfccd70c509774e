"""Where water entering a store comes to rest: the first layer of its own temperature.

Owns the choice of layer for each inflow, made from the last step's profile and kept through the step. Knows nothing
of how the step is solved. Fixed layers are left alone: nothing that enters them changes them.
"""

from __future__ import annotations

from copy import copy

import numpy as np

from loopwright.engineering.arrays import Arrays
from loopwright.engineering.network import State


def settling_layer(layers_C: np.ndarray, tapping: int, entering_C: float) -> int:
    """Layer (0 at the bottom) in which water entering at a tapping stays.

    Warmer than its surroundings it rises past every colder layer; colder, it sinks past every warmer one.
    """
    at = tapping
    if entering_C > layers_C[at]:
        while at + 1 < len(layers_C) and layers_C[at + 1] < entering_C:
            at += 1
    elif entering_C < layers_C[at]:
        while at > 0 and layers_C[at - 1] > entering_C:
            at -= 1
    return at


def entering(A: Arrays, s: State) -> Arrays:
    """The arrays with every inflow into an evolving store led to its layer; the same object if there is none."""
    if not A.inlets:
        return A
    _ = A.layout  # made once for all that are led from it
    ta, tb, V = A.ta.copy(), A.tb.copy(), A.V.copy()
    moved = False
    for branch, at_b, first, count, face, tapping in A.inlets:
        flow = s.m[branch] if at_b else -s.m[branch]
        if flow <= 0.0:
            continue
        t = s.T[branch, A.last[branch] if at_b else 0]
        layer = settling_layer(s.N[first : first + count], tapping, float(t))
        if layer == tapping:
            continue
        moved = True
        (tb if at_b else ta)[branch] = first + layer
        # a face between the two layers now carries what it did not, or no longer what it did
        sign = 1.0 if at_b else -1.0
        if layer > tapping:
            V[face + tapping : face + layer, branch] -= sign
        else:
            V[face + layer : face + tapping, branch] += sign
    if not moved:
        return A
    led = copy(A)  # a step is made of little else than such calls: no field is looked at again
    vars(led).update(ta=ta, tb=tb, V=V)
    vars(led).pop("joined", None)
    return led
