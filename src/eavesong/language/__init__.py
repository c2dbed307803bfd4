"""Effect text to kernel: blind to layouts and to music.

``parse → check → lower (fold, share, slopes, boundaries) → hoist → emit → load``, one short module each.
"""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
