"""The check of a show: what every cue lights on a house, and what stays dark, before anything is rendered."""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
