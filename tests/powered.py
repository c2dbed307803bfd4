"""Small invented houses with power, as the text of their layouts."""

LINE = """\
title = "A line"
[power]
pixel_type = "5 V, 20 mA"
[[prop]]
name = "eaves"
shape = "line"
to = [10.0, 0.0]
pixels = 100
[[controller]]
name = "box"
[[controller.output]]
number = 1
chain = ["eaves"]
"""
"""100 pixels, 0.1 m apart, on one output."""
