"""The frames file: every frame of a show in one HDF5 file that any HDF5 tool reads (``docs/frames-file.md``)."""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
