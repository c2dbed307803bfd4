"""A season: every song of a setlist, rendered on one machine or several, and the evenings they are played on.

check everything → skip what is up to date → workers, one song each → a table, a report, an exit code
"""

import lazy_loader as lazy

__getattr__, __dir__, __all__ = lazy.attach_stub(__name__, __file__)
