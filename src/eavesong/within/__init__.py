"""Limits kept: frames on their way to the file are dimmed where they draw too much, and softened where they flash."""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
