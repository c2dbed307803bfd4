"""Scenes: an order placed on a house and a song, with no engine in it; made from files, or reopened from frames."""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
