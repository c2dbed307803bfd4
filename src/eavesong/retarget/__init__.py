"""Retargeting: what a changed house does to a show, and its frames there, copied where nothing can have changed.

`retarget` does both; `eavesong.retarget.likeness.likeness` compares two frames files.
"""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
