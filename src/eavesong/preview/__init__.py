"""Pictures of a house at night, made from a frames file alone."""

from eavesong.preview.night import filmstrip, night

__all__ = ["filmstrip", "night"]
