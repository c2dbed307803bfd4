"""Playback: frames out to the controllers over E1.31, in time with the song, one song or a whole evening.

`play` sends one frames file, `run_evening` a setlist.
"""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
