"""Values that functions of the effect language have by definition: (name, arguments, value)."""

import numpy as np

# Values worked out by hand from the definitions in GLSL 4.60, chapter 8.3 (common) and 8.1 to 8.2.
GLSL = [
    ("fract", (-1.25,), 0.75),
    ("mod", (-1.5, 1.0), 0.5),
    ("mod", (5.5, -2.0), -0.5),
    ("mod", (-7.0, 3.0), 2.0),
    ("step", (0.5, 0.5), 1.0),
    ("step", (0.5, 0.49), 0.0),
    ("smoothstep", (0.0, 1.0, 0.25), 0.15625),
    ("smoothstep", (2.0, 4.0, 2.5), 0.15625),
    ("clamp", (3.0, 0.0, 1.0), 1.0),
    ("mix", (10.0, 20.0, 0.25), 12.5),
    ("trunc", (-1.7,), -1.0),
    ("ceil", (-1.7,), -1.0),
    ("floor", (-1.7,), -2.0),
    ("sign", (-0.2,), -1.0),
    ("inversesqrt", (4.0,), 0.5),
    ("length2", (3.0, -4.0), 5.0),
    ("length3", (2.0, 3.0, 6.0), 7.0),
    ("exp2", (3.0,), 8.0),
    ("log2", (8.0,), 3.0),
    ("pow", (2.0, 10.0), 1024.0),
]

# Undefined in GLSL; total here.
OURS = [
    ("divide", (1.0, 0.0), 0.0),
    ("mod", (1.0, 0.0), 0.0),
    ("sqrt", (-1.0,), 0.0),
    ("inversesqrt", (0.0,), 0.0),
    ("inversesqrt", (-4.0,), 0.0),
    ("log2", (0.0,), -126.0),
    ("pow", (0.0, 0.0), 1.0),
    ("pow", (0.0, 2.0), 0.0),
    ("pow", (0.0, -2.0), 0.0),
    ("pow", (-2.0, 3.0), -8.0),
    ("pow", (-2.0, 2.0), 4.0),
    ("pow", (-2.0, 0.5), 0.0),
    ("asin", (2.0,), np.pi / 2),
    ("acos", (-2.0,), np.pi),
    ("atan", (0.0, 0.0), 0.0),
    ("clamp", (0.5, 1.0, 0.0), 0.0),
    ("smoothstep", (1.0, 0.0, 0.25), 0.84375),
    ("smoothstep", (1.0, 1.0, 1.0), 1.0),
    ("smoothstep", (1.0, 1.0, 0.5), 0.0),
    ("round", (2.5,), 3.0),
    ("round", (-2.5,), -2.0),
    ("wrap", (0.5,), -0.5),
    ("wrap", (1.75,), -0.25),
    ("wrap", (-3.1,), -0.1),
    ("exp2", (1000.0,), 2.0**127),
]
