"""Limits kept as frames are made: dimmed where they would draw too much, softened where they would flash."""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
