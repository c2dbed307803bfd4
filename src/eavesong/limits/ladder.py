"""A string of pixels as a resistive ladder: constant-current loads between two conductors that resist.

Node voltages come from Kirchhoff's current law at every pixel, one tridiagonal system, solved exactly. The drops in
the two conductors are taken together: the ladder's rails are folded into one with the loop resistance, which is
exact because the same current flows out in one and back in the other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

LEAST = 1e-9
"""Ohms taken for wire of no length at all."""


@dataclass(frozen=True, eq=False)
class Ladder:
    """A string of n pixels and the leads that meet it. Resistances are loop resistances: out and back."""

    volts: float
    """Of the supply."""
    links: Floats
    """(n - 1,) ohms from each pixel to the next."""
    points: NDArray[np.int64]
    """(k,) the pixels at which leads arrive; none twice."""
    leads: Floats
    """(k,) ohms of each lead; 0: the supply sits right there."""

    def drops(self, amperes: ArrayLike) -> Floats:
        """Volts lost (n,) at each pixel when the pixels draw ``amperes`` (n,), or (n, c) for c cases at once."""
        from scipy.linalg import solve_banded

        loads = np.array(amperes, dtype=np.float64)
        bands = self._bands()
        stiff = self.points[self.leads <= LEAST]
        loads[stiff] = 0.0
        drops: Floats = solve_banded((1, 1), bands, loads, check_finite=False)
        return drops

    def voltages(self, amperes: ArrayLike) -> Floats:
        """Volts (n,) at each pixel; below 0 where the string cannot carry such currents at all."""
        return self.volts - self.drops(amperes)

    def lead_amperes(self, amperes: ArrayLike) -> Floats:
        """Amperes (k,) through each lead, in the order of ``points``."""
        drops, loads = self.drops(amperes), np.asarray(amperes, dtype=np.float64)
        flows = np.diff(drops) / np.maximum(self.links, LEAST)
        into = loads + np.append(flows, 0.0) - np.append(0.0, flows)
        return np.where(self.leads > LEAST, drops[self.points] / np.maximum(self.leads, LEAST), into[self.points])

    def most_flows(self, amperes: ArrayLike) -> Floats:
        """The most amperes (n - 1,) that each link carries, whichever of the pixels are lit, when lit ones draw
        ``amperes`` (n,)."""
        from eavesong.kernels.ladder import most_flows

        ground = np.zeros(len(self.links) + 1)
        ground[self.points] = 1 / np.maximum(self.leads, LEAST)
        out = np.zeros(len(self.links))
        loads = np.ascontiguousarray(amperes, np.float64)
        most_flows(np.maximum(self.links, LEAST), ground, loads, out, np.empty(len(loads)))
        return out

    def factors(self) -> Floats:
        """(3, n) lower, inverse and upper parts of the eliminated matrix, as ``kernels.ladder.solve_frames`` takes
        them; a pixel that is the supply has an inverse of 0, so that nothing is lost there."""
        above, diagonal, below = self._bands()
        lower, inverse, upper = np.append(0.0, below[:-1]), np.zeros(len(diagonal)), np.zeros(len(diagonal))
        stiff = set(self.points[self.leads <= LEAST].tolist())
        over = np.append(above[1:], 0.0).tolist()
        eliminated = 0.0
        for i, (under, middle) in enumerate(zip(lower.tolist(), diagonal.tolist(), strict=True)):
            inverse[i] = 0.0 if i in stiff else 1 / (middle - under * eliminated)
            eliminated = upper[i] = over[i] * inverse[i]
        return np.stack([lower, inverse, upper])

    def _bands(self) -> Floats:
        """The conductance matrix as ``solve_banded`` takes it; rows of pixels that are the supply say drop = 0."""
        conductances = 1.0 / np.maximum(self.links, LEAST)
        bands = np.zeros((3, len(self.links) + 1))
        bands[0, 1:] = bands[2, :-1] = -conductances
        bands[1, :-1] += conductances
        bands[1, 1:] += conductances
        soft = self.leads > LEAST
        bands[1, self.points[soft]] += 1.0 / self.leads[soft]
        for stiff in self.points[~soft]:
            bands[1, stiff] = 1.0
            bands[0, min(stiff + 1, len(self.links))] *= stiff == len(self.links)
            bands[2, max(stiff - 1, 0)] *= stiff == 0
        return bands
