"""Previews: stills, clips and the page of a house lit, made from a frames file alone."""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
