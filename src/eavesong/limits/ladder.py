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

    def weights(self, pixel: int) -> Floats:
        """Ohms (n,): volts lost at ``pixel`` for each ampere drawn at each pixel. The system is linear, and its
        inverse symmetric."""
        unit = np.zeros(len(self.links) + 1)
        unit[pixel] = 1.0
        return self.drops(unit)

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
