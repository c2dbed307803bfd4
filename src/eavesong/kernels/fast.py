"""The functions of the effect language on single float32 values, branch-free, inlined into the inner loop.

Each function has the name and the meaning of its float64 reference in ``exact``. The library's sin, cos, exp and
log would be calls that stop LLVM from vectorising the loop; the polynomials here do not. Bounds on their error
against ``exact`` (checked by the tests over the ranges given):

| function | error at most | for arguments |
|---|---|---|
| sin, cos | 1e-6 | within ±10,000 |
| exp2, exp | 1e-6 and 1.1e-6 of the value | all of the range of exp2; exp: within ±20 |
| log2, log | 1e-6, and 1e-7 of the value | 2**-126 up |
| asin, acos, atan | 1e-6 | all |
"""

from __future__ import annotations

from numpy import float32 as f
from numpy import int32 as i

from eavesong.kernels.basics import (
    abs as abs,
)
from eavesong.kernels.basics import (
    ceil as ceil,
)
from eavesong.kernels.basics import (
    choose as choose,
)
from eavesong.kernels.basics import (
    clamp as clamp,
)
from eavesong.kernels.basics import (
    divide as divide,
)
from eavesong.kernels.basics import (
    equal as equal,
)
from eavesong.kernels.basics import (
    floor as floor,
)
from eavesong.kernels.basics import (
    fract as fract,
)
from eavesong.kernels.basics import (
    held as held,
)
from eavesong.kernels.basics import (
    less as less,
)
from eavesong.kernels.basics import (
    less_equal as less_equal,
)
from eavesong.kernels.basics import (
    max as max,
)
from eavesong.kernels.basics import (
    min as min,
)
from eavesong.kernels.basics import (
    mix as mix,
)
from eavesong.kernels.basics import (
    mod as mod,
)
from eavesong.kernels.basics import (
    round as round,
)
from eavesong.kernels.basics import (
    sign as sign,
)
from eavesong.kernels.basics import (
    smoothstep as smoothstep,
)
from eavesong.kernels.basics import (
    step as step,
)
from eavesong.kernels.basics import (
    trunc as trunc,
)
from eavesong.kernels.basics import (
    unit as unit,
)
from eavesong.kernels.basics import (
    wide_mix as wide_mix,
)
from eavesong.kernels.basics import (
    wide_smoothstep as wide_smoothstep,
)
from eavesong.kernels.basics import (
    wrap as wrap,
)
from eavesong.kernels.chance import (
    hash1 as hash1,
)
from eavesong.kernels.chance import (
    hash2 as hash2,
)
from eavesong.kernels.chance import (
    hash3 as hash3,
)
from eavesong.kernels.chance import (
    hash_part as hash_part,
)
from eavesong.kernels.chance import (
    joined as joined,
)
from eavesong.kernels.chance import (
    lot as lot,
)
from eavesong.kernels.chance import (
    noise1 as noise1,
)
from eavesong.kernels.chance import (
    noise2 as noise2,
)
from eavesong.kernels.chance import (
    noise3 as noise3,
)
from eavesong.kernels.exact import PALETTE_SIZE, SPECTRUM_SIZE
from eavesong.kernels.words import (
    add_bits,
    bits_float,
    float_bits,
    load,
    magnitude,
    root,
    select,
    shift_left,
    shift_right,
    times_bits,
    to_float,
    to_int,
    xor_bits,
)
from eavesong.kernels.words import floor as lane_floor


def sqrt(x):
    """The square root; 0 below 0."""
    return root(select(x > f(0), x, f(0)))


def inversesqrt(x):
    """1 / sqrt(x); 0 at and below 0."""
    return select(x > f(0), f(1) / root(select(x > f(0), x, f(1))), f(0))


def exp2(x):
    """2 to the power x, held within -126 and 127; a polynomial for the fraction, bits for the whole part."""
    x = clamp(x, f(-126), f(127))
    whole = lane_floor(x + f(0.5))
    p = x - whole
    power = f(0.00015469732) * p + f(0.0013400432)
    power = power * p + f(0.0096180256)
    power = power * p + f(0.055503272)
    power = power * p + f(0.24022651)
    power = power * p + f(0.69314721)
    power = power * p + f(1)
    # Two factors, because 2**127 * 2 is past the largest exponent of a single one.
    half = shift_right(add_bits(to_int(whole), i(512)), i(1))
    rest = add_bits(to_int(whole), add_bits(i(512), times_bits(half, i(-2))))
    half = add_bits(half, i(-256))
    first = bits_float(shift_left(add_bits(half, i(127)), i(23)))
    second = bits_float(shift_left(add_bits(add_bits(half, rest), i(127)), i(23)))
    return power * first * second


def exp(x):
    """e to the power x."""
    return exp2(x * f(1.4426950408889634))


def log2(x):
    """The logarithm to base 2, from 2**-126 up: the exponent's bits and a series of the mantissa."""
    bits = float_bits(max(x, f(1.1754944e-38)))
    # The exponent is counted from sqrt(1/2), so that the mantissa stays around 1.
    above = add_bits(bits, i(0x3F800000 - 0x3F3504F3))
    exponent = to_float(add_bits(shift_right(above, i(23)), i(-127)))
    offset = shift_left(add_bits(shift_right(above, i(23)), i(-127)), i(23))
    mantissa = bits_float(add_bits(bits, times_bits(offset, i(-1))))
    s = (mantissa - f(1)) / (mantissa + f(1))
    t = s * s
    series = t * (t * (t * (t * f(1 / 9) + f(1 / 7)) + f(0.2)) + f(1 / 3)) + f(1)
    return exponent + s * series * f(2.885390081777927)


def log(x):
    """The natural logarithm, from 2**-126 up."""
    return log2(x) * f(0.6931471805599453)


def pow(x, y):
    """x to the power y; 1 where y is 0; below 0 only for whole y, else 0."""
    size = exp2(y * log2(magnitude(x)))
    whole = lane_floor(y) == y
    odd = lane_floor(y * f(0.5)) * f(2) != y
    negative = select(whole, select(odd, -size, size), f(0))
    power = select(x > f(0), size, select(x < f(0), negative, f(0)))
    return select(y == f(0), f(1), power)


def _sine_of_rest(x, k):
    """sin(x - k pi); pi comes in three parts, so that the products with k lose nothing."""
    r = x - k * f(3.140625)
    r = r - k * f(0.0009670257568359375)
    r = r - k * f(6.277114152908325e-07)
    z = r * r
    p = f(2.6051663e-06) * z + f(-0.00019809046)
    p = p * z + f(0.0083330506)
    p = p * z + f(-0.16666658)
    p = p * z + f(1.0)
    return p * r


_WHOLE = f(1.5 * 2**23)
"""Added to what is small beside it, it leaves the nearest whole number, odd where the lowest bit of the sum is."""


def _turned(s, sum_):
    """s, or -s where the whole number in the sum is odd."""
    return bits_float(xor_bits(float_bits(s), shift_left(float_bits(sum_), i(31))))


def sin(x):
    """The sine of x radians."""
    k = x * f(0.3183098861837907) + _WHOLE
    return _turned(_sine_of_rest(x, k - _WHOLE), k)


def cos(x):
    """The cosine of x radians."""
    k = (x * f(0.3183098861837907) - f(0.5)) + _WHOLE
    return -_turned(_sine_of_rest(x, (k - _WHOLE) + f(0.5)), k)


def tan(x):
    """The tangent of x radians; 0 where the cosine is 0."""
    return divide(sin(x), cos(x))


def wide_sin(x):
    """Where single precision no longer tells turns apart the polynomial may give anything: it is held within ±1."""
    return clamp(sin(x), f(-1), f(1))


def wide_cos(x):
    """As `wide_sin`, for the cosine."""
    return clamp(cos(x), f(-1), f(1))


def wide_tan(x):
    """The tangent from both."""
    return divide(wide_sin(x), wide_cos(x))


def acos(x):
    """The angle 0..pi radians whose cosine is x, held within -1 and 1."""
    # Abramowitz & Stegun, Handbook of Mathematical Functions (1964), 4.4.46: error at most 2e-8 on 0..1.
    a = min(magnitude(x), f(1))
    p = f(-0.0012624911) * a + f(0.0066700901)
    p = p * a + f(-0.0170881256)
    p = p * a + f(0.0308918810)
    p = p * a + f(-0.0501743046)
    p = p * a + f(0.0889789874)
    p = p * a + f(-0.2145988016)
    p = p * a + f(1.5707963050)
    angle = p * root(f(1) - a)
    return select(x < f(0), f(3.141592653589793) - angle, angle)


def asin(x):
    """The angle ±pi/2 radians whose sine is x, held within -1 and 1."""
    return f(1.5707963267948966) - acos(x)


def atan(y, x):
    """The angle ±pi radians of the point (x, y); 0 at the origin."""
    # Abramowitz & Stegun (1964), 4.4.49: error at most 2e-8 on -1..1.
    across, up = magnitude(x), magnitude(y)
    low, high = min(across, up), max(across, up)
    t = divide(low, high)
    z = t * t
    p = f(0.0028662257) * z + f(-0.0161657367)
    p = p * z + f(0.0429096138)
    p = p * z + f(-0.0752896400)
    p = p * z + f(0.1065626393)
    p = p * z + f(-0.1420889944)
    p = p * z + f(0.1999355085)
    p = p * z + f(-0.3333314528)
    p = p * z + f(1.0)
    angle = p * t
    angle = select(up > across, f(1.5707963267948966) - angle, angle)
    angle = select(x < f(0), f(3.141592653589793) - angle, angle)
    return select(y < f(0), -angle, angle)


def length2(x, y):
    """The distance of (x, y) from the origin."""
    return root(x * x + y * y)


def length3(x, y, z):
    """The distance of (x, y, z) from the origin."""
    return root(x * x + y * y + z * z)


def wide_length2(x, y):
    """Measured in the larger of the two, so that no square leaves the range."""
    largest = max(magnitude(x), magnitude(y))
    return largest * length2(divide(x, largest), divide(y, largest))


def wide_length3(x, y, z):
    """As `wide_length2`, for three."""
    largest = max(magnitude(x), max(magnitude(y), magnitude(z)))
    return largest * length3(divide(x, largest), divide(y, largest), divide(z, largest))


def srgb_decode(x):
    """Linear light of an sRGB value, both 0..1 (CSS Color 4, section 10.2)."""
    x = unit(x)
    curve = exp2(f(2.4) * log2((x + f(0.055)) * f(1 / 1.055)))
    return select(x <= f(0.04045), x * f(1 / 12.92), curve)


def palette(p, entries, channel):
    """One channel (0, 1, 2) of the palette at p; ``entries`` holds PALETTE_SIZE values of each channel in turn."""
    place = unit(p) * f(PALETTE_SIZE - 1)
    whole = min(lane_floor(place), f(PALETTE_SIZE - 2))
    first = to_int(whole) + channel * PALETTE_SIZE
    low = load(entries, first)
    return low + (place - whole) * (load(entries, first + 1) - low)


def spectrum(p, bands):
    """The spectrum at p from 0 (lowest band) to 1 (highest); ``bands`` holds the frame's SPECTRUM_SIZE values."""
    place = unit(p) * f(SPECTRUM_SIZE - 1)
    whole = min(lane_floor(place), f(SPECTRUM_SIZE - 2))
    first = to_int(whole)
    low = load(bands, first)
    return low + (place - whole) * (load(bands, first + 1) - low)
