"""Music: a song's sound becomes its beat grid and the signals that effects follow."""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
