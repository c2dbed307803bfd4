"""A show drafted from a song: its form, who lights it, in which colours, and what answers to what happens."""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
