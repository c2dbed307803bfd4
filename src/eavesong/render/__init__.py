"""From an order to a frames file: `render` does the whole job, order → scene → engine → file."""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
