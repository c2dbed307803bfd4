"""Choreograph a house of lights once, in proportions and musical time, and play it on any house.

```python
from eavesong.render import render

render("street.show.toml", layout="house.toml", out="street.h5")
```
"""

__version__ = "0.1.0"
