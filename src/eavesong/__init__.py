"""Choreograph a house of lights once, in proportions and musical time, and play it on any house."""

__version__ = "0.1.0"
