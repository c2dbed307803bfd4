"""Kernels by name: called in machine code, without numba where that is kept."""

from __future__ import annotations

from typing import Any

from eavesong.kernels.store import kernel


@kernel(
    "int64[2]", "int64[1]", "int64[1]", "int64[1]", "int64[2]", "int64[3]", "float32[2]", "float32[2]", "float32[2]",
    "int64[2]", "int64[1]", "float32[2]", "uint8[2]", "int64", "int64", "float32[2]", "int64[1]", "uint8[2]",
)  # fmt: skip
def sample() -> Any:
    """See ``sample.fill``."""
    from eavesong.kernels.sample import fill

    return fill


@kernel("uint8[2]", "float32[1]", "int64[2]", "float64[2]", fastmath=frozenset({"reassoc", "nsz"}))
def drive_currents() -> Any:
    """See ``current.drive_currents``."""
    from eavesong.kernels.current import drive_currents

    return drive_currents


@kernel("uint8[2]", "int64[2]", "float32[2]")
def scale() -> Any:
    """See ``current.scale``."""
    from eavesong.kernels.current import scale

    return scale


@kernel("uint8[3]", "uint8[2]", "int32[2]")
def exact_steps() -> Any:
    """See ``steps.exact_steps``."""
    from eavesong.kernels.steps import exact_steps

    return exact_steps


@kernel("uint8[3]", "float32[1]", "float32", "float32", "float32", "uint8[2]", "int32[2]")
def rounded_steps() -> Any:
    """See ``steps.rounded_steps``."""
    from eavesong.kernels.steps import rounded_steps

    return rounded_steps


@kernel(
    "uint8[2]", "float32[3]", "int64", "int64[2]", "int16[1]", "float32[2]", "float32[2]", "float32[2]", "uint8[2]",
    "int64", "int64", "int64", "int64", "uint8[3]", "float32[1]", "float32[2]",
)  # fmt: skip
def follow() -> Any:
    """See ``watch.follow``."""
    from eavesong.kernels.watch import follow

    return follow


@kernel(
    "uint8[2]", "int64[2]", "int16[1]", "float32[2]", "int32[1]", "float64[1]", "int32[1]", "int32[1]", "float64[1]",
    "int64", "int64", "float32[3]", "float32[1]", "float32[3]", "float64[3]",
)  # fmt: skip
def mix() -> Any:
    """See ``mix.mix``."""
    from eavesong.kernels.mix import mix

    return mix


@kernel("uint8[2]", "int64", "int64", "float32[2]", "int64[1]", "float64", "uint8[2]", "float32[2]", "int64", "int64")
def shrink() -> Any:
    """See ``shrink.shrink``."""
    from eavesong.kernels.shrink import shrink

    return shrink


@kernel("uint8[2]", "int64", "int64", "int64", "int32[1]", "int32[2]", "float32[2]", "int64", "int64")
def weigh() -> Any:
    """See ``shrink.weigh``."""
    from eavesong.kernels.shrink import weigh

    return weigh
