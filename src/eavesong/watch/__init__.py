"""The live page: texts are watched, and what changed in them changes on the page while the song plays on."""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
