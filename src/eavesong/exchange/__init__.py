"""Exchange: a show handed on in one small file, without its song, and found again in another copy of that."""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
