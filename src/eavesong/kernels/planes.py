"""What lies where in the memory that kernels work in, and how much of it they need; known without numba."""

from __future__ import annotations

LANES = 256
"""Pixels in a tile: the planes of all that is known of them fit into the first-level cache."""

LOOK_UP = 5
"""Planes of a tile's look-up, int32: channels of red, green, blue and white; where its table begins."""

WAYS = 4
"""Directions in which the reach of colours is kept, 45 degrees apart: along u', along v', and between them."""

STATE = 12 + 4 * WAYS
"""Planes that are kept from block to block while flashes are followed."""

(HIGH, LOW, WAY, LATEST, GENERAL, RED, MOST_GENERAL, MOST_RED, NEAR, NEAREST, SURE_GENERAL, SURE_RED) = (
    plane * LANES for plane in range(12)
)
"""Where each plane begins: highest and lowest luminance since the last change; its way, 1 up, -1 down; its frame;
changes in the last second, the most of each; frames that either has stood just below its limit, the most of those;
the last frame in which the last close look is known to hold."""

TOP, BOTTOM, REACH = 12 * LANES, 12 * LANES + WAYS * LANES, 2 * WAYS * LANES
"""Reach of the other colours since the last change along each direction; REACH further on that of the reds."""

R, G, B, _, FOUND, GONE, AGAIN, IS_RED, AWAY = (plane * LANES for plane in range(STATE, STATE + 9))
"""Light; what the frame brought, and what left the last second: 1 general, 2 red, 3 both; 1 where the frame brought a
change of luminance the same way as the last one; 1 where the light is a saturated red; how far it is from others."""

ALONG = R
"""In the place of the light, once its luminance is known: where the colour lies along each direction."""

TOLD, LOOK = AWAY, AGAIN
"""In the place of what is used up by then: counts above the limit that are told, 1 where a close look has to decide."""

PLANES = STATE + 9

LIST, BEGUN = (PLANES + LOOK_UP) * LANES, (PLANES + LOOK_UP + 1) * LANES
"""Behind the look-up: places that need a closer look one after the other, and the rows found for them."""

FEW = 16
"""Places that are passed over together where nothing is to be done for any of them."""

SIDE = (PLANES + LOOK_UP + 2) * LANES
"""Where what is known of those begins."""

FOLLOWED = SIDE + 8 * LANES
"""Values of the tile that is followed."""

CLOSE = LANES + 16
"""Values of a frame of that tile for a close look: its luminance, then light, u'v' and kind of one of its places."""

MIXED = (3 + LOOK_UP) * LANES
"""Values of the tile whose light is mixed, its look-up last."""

COLUMNS = 1024
"""Channels whose contrast is shrunk together."""

FRAMES = 16
"""Frames of a ladder that are solved side by side: one cache line of a pixel's bytes is read for each, and lanes are
full."""

MOST = 8
"""Cues that are drawn in one step at most."""

ADDRESSES = 2 + 5 * MOST + 3
"""What a step takes: light, spectrum; weight, planes, scalars, palette, strength of each cue; curve, order, bytes."""
