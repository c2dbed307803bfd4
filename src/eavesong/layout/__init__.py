"""Layout: a house and its props as places of pixels, with tags and a patch.

`load_layout` reads a layout file; `layout_from_points` makes a layout from arrays.
"""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
