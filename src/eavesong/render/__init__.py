"""Plan to blocks to bytes: a show on a house to a song becomes a frames file.

`render` renders it whole, `retarget` on a changed house only what has changed. `eavesong.render.likeness.likeness`
compares two frames files.
"""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
