"""How the light of frames follows their song: in figures, in words and in a picture."""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
