"""A song of our own, and the demo's house."""

from drafted import house, song  # noqa: F401
