"""Shows: cues that put effects on props at musical times; read, checked, and placed on a house and a song.

`load_show` reads a show file, `place_cues` puts it on a layout and a beat grid, `check` says what it will do.
"""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
