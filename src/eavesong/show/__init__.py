"""Shows: cues that put effects on props at musical times; read, and checked without house and song."""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
