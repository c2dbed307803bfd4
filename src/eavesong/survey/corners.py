"""The camera of a photo in which a few known places are pointed at: four corners of a house, or more.

Least squares over where it stood, how it was turned and its focal length (Hartley & Zisserman 2004, 7.3), from three
starts in the street. Seen straight from ahead, focal length and distance trade; the usual one of phones decides then.
"""

from __future__ import annotations

import numpy as np

from eavesong.errors import MisfitError
from eavesong.survey.camera import Lens, cross_matrix, small_turn, turned
from eavesong.survey.known import UNKNOWN_FOCAL, Floats, focal_in_pixels

LOOSE = 0.2
"""Standard deviation of the logarithm of the focal length nobody has told."""
CLICK = 0.002
"""Standard deviation of a click, in widths of the photo."""
STEPS = 60
WORST = 0.03
"""Widths of the photo by which a corner may be off before its camera is refused."""
LEAST_AREA = 1e-3
"""Of the photo's square width, that the corners span."""


def lens_of_corners(clicks: Floats, places: Floats, size: tuple[int, int]) -> Lens:
    """The camera that sees ``places`` (n, 3), metres, at ``clicks`` (n, 2), picture elements of a photo of ``size``.

    Raises MisfitError where there is none: corners on one line, or one that is pointed at in the wrong place.
    """
    spread = np.linalg.svd((clicks - clicks.mean(axis=0)) / size[0], compute_uv=False)
    if spread[0] * spread[1] < LEAST_AREA:
        raise MisfitError("the corners of the photo lie on one line", "Point at four that do not.")
    tried = [_adjusted(clicks, places, size, yaw) for yaw in (0.0, -0.6, 0.6)]
    best, cost = min(tried, key=lambda pair: pair[1])
    off = np.linalg.norm(best.see(places) - clicks, axis=1) / size[0]
    if not np.isfinite(cost) or off.max() > WORST or best.depth(places).min() <= 0:
        raise MisfitError(
            f"no camera sees the corners there: they are off by up to {off.max() * size[0]:.0f} picture elements",
            "Compare 'at' and 'house' of each corner; 'at' counts from the photo's upper left.",
        )
    return best


def _adjusted(clicks: Floats, places: Floats, size: tuple[int, int], yaw: float) -> tuple[Lens, float]:
    """The camera that least squares leads to from a start turned to the left by ``yaw``, and its cost."""
    usual = focal_in_pixels(UNKNOWN_FOCAL, *size)
    lens, damping = _start(clicks, places, size, usual, yaw), 1e-3
    cost = _cost(lens, clicks, places, size, usual)
    for _ in range(STEPS):
        residuals, slope = _slope(lens, clicks, places, size, usual)
        square = slope.T @ slope
        step = np.asarray(np.linalg.solve(square + damping * np.diag(np.diag(square) + 1e-9), -slope.T @ residuals))
        moved = _moved(lens, step)
        after = _cost(moved, clicks, places, size, usual)
        if after < cost:
            done, lens, cost, damping = cost - after < 1e-10 * cost, moved, after, damping / 5
            if done:
                break
        else:
            damping *= 5
    return lens, cost


def _start(clicks: Floats, places: Floats, size: tuple[int, int], focal: float, yaw: float) -> Lens:
    """A camera whose picture of the places is about as large as, and lies about where, the clicks are."""
    centre, turn = np.array(size) / 2, turned(yaw, 0.0, 0.0)
    wide, seen = (np.linalg.norm(points - points.mean(axis=0), axis=1).mean() for points in (places, clicks))
    middle = np.append((clicks.mean(axis=0) - centre) / focal, 1.0) * focal * wide / max(seen, 1.0)
    return Lens(focal, 0.0, turn, places.mean(axis=0) - turn.T @ middle, centre)


def _slope(lens: Lens, clicks: Floats, places: Floats, size: tuple[int, int], usual: float) -> tuple[Floats, Floats]:
    """Residuals (2n + 1,) in standard deviations, and their derivatives by turn, place and logarithm of focal."""
    seen, by_seen, by_lens = lens.slopes(places)
    arms = (places - lens.place) @ lens.turn.T
    by_turn, by_place = -by_seen @ cross_matrix(arms), -by_seen @ lens.turn
    slope = np.concatenate([by_turn, by_place, by_lens[:, :, :1]], axis=2).reshape(-1, 7) / (CLICK * size[0])
    prior = np.zeros((1, 7))
    prior[0, 6] = 1 / LOOSE
    residuals = np.append(((seen - clicks) / (CLICK * size[0])).ravel(), np.log(lens.focal / usual) / LOOSE)
    return residuals, np.concatenate([slope, prior])


def _cost(lens: Lens, clicks: Floats, places: Floats, size: tuple[int, int], usual: float) -> float:
    if lens.depth(places).min() <= 0.1:
        return float("inf")
    off = (lens.see(places) - clicks) / (CLICK * size[0])
    return float((off**2).sum() + (np.log(lens.focal / usual) / LOOSE) ** 2)


def _moved(lens: Lens, step: Floats) -> Lens:
    turn = small_turn(step[:3])[0] @ lens.turn
    return Lens(lens.focal * float(np.exp(np.clip(step[6], -1, 1))), 0.0, turn, lens.place + step[3:6], lens.centre)
