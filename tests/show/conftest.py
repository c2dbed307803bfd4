"""What these tests share with others: a house, songs of even beats and shows."""

from shows import grid, grid_at, house, house_text, read, wash_text

__all__ = ["grid", "grid_at", "house", "house_text", "read", "wash_text"]
