"""Limits: whether supplies, wires, data lines and eyes can carry what a house is asked to show.

`limits` puts everything together; its modules can be used one by one.
"""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
