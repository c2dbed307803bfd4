"""The words that kernels are written in: what a function does with a few pixels' numbers, as LLVM reads it.

A kernel is a Python function of pointers. `assembly` runs it once, with stand-ins for its numbers that write down in
LLVM's language what is done to them, on ``width`` pixels at a time: the loop is vectorised because it is written so.
All is branch-free, and a multiply and an add may become one instruction; nothing else is left to the compiler, so that
bits never depend on the place in a tile.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Sequence
from contextvars import ContextVar
from dataclasses import dataclass, field
from inspect import signature
from typing import Any

import numpy as np

from eavesong.kernels.exact import TILE as TILE

_NUMPY = {np.dtype(np.float32): "float", np.dtype(np.int32): "i32", np.dtype(np.bool_): "i1"}


@dataclass
class _Written:
    """The text of a function as it grows: what is done once, and what for every ``width`` pixels."""

    width: int
    once: list[str] = field(default_factory=list)
    loop: list[str] = field(default_factory=list)
    known: dict[str, str] = field(default_factory=dict)
    """The names of what has been computed, by what it was computed from."""
    stored: dict[tuple[str, int], Lanes] = field(default_factory=dict)
    """What is to be written at the end, by where; until then it is loaded from here."""
    functions: set[str] = field(default_factory=set)

    def value(self, code: str, once: bool = False) -> str:
        """The name of what ``code`` gives, which has no effect but to give it."""
        if code not in self.known:
            self.known[code] = f"%v{len(self.known)}"
            (self.once if once else self.loop).append(f"  {self.known[code]} = {code}")
        return self.known[code]


_TEXT: ContextVar[_Written] = ContextVar("text")


@dataclass(frozen=True, eq=False)
class Lanes:
    """Numbers of one kind, one of each pixel at hand: float, double, i32, or i1 for conditions."""

    kind: str
    name: str
    __array_ufunc__ = None
    """numpy's numbers leave operations with lanes to them."""

    @property
    def typed(self) -> str:
        """The value with its type."""
        return f"{_vector(self.kind)} {self.name}"

    def __add__(self, other):
        return _arithmetic("add", self, other)

    def __radd__(self, other):
        return _arithmetic("add", other, self)

    def __sub__(self, other):
        return _arithmetic("sub", self, other)

    def __rsub__(self, other):
        return _arithmetic("sub", other, self)

    def __mul__(self, other):
        return _arithmetic("mul", self, other)

    def __rmul__(self, other):
        return _arithmetic("mul", other, self)

    def __truediv__(self, other):
        return _arithmetic("div", self, other)

    def __rtruediv__(self, other):
        return _arithmetic("div", other, self)

    def __neg__(self):
        return _made(self.kind, f"fneg {self.typed}")

    def __lt__(self, other):
        return _compared("olt", self, other)

    def __le__(self, other):
        return _compared("ole", self, other)

    def __gt__(self, other):
        return _compared("ogt", self, other)

    def __ge__(self, other):
        return _compared("oge", self, other)

    def __eq__(self, other):
        return _compared("oeq", self, other)

    def __ne__(self, other):
        return _compared("une", self, other)


@dataclass(frozen=True)
class Offset:
    """Where the pixels at hand are: so many numbers behind a tile's first ones."""

    more: int = 0

    def __add__(self, more: int) -> Offset:
        return Offset(self.more + more)


@dataclass(frozen=True)
class Pointer:
    """Where numbers of one type lie."""

    name: str

    def at(self, index: int | Offset) -> str:
        """The address of a number, or of the first of as many as are at hand."""
        text, name, more, once = _TEXT.get(), self.name, index, True
        if isinstance(index, Offset):
            name, more, once = text.value(f"getelementptr float, ptr {name}, i64 %n"), index.more, False
        return text.value(f"getelementptr float, ptr {name}, i64 {more}", once) if more else name


def _vector(kind: str) -> str:
    return f"<{_TEXT.get().width} x {kind}>"


def _made(kind: str, code: str) -> Lanes:
    return Lanes(kind, _TEXT.get().value(code))


def lifted(value: Any, kind: str = "float") -> Lanes:
    """A number in every lane; lanes as they are. kind: of a number of Python's."""
    if isinstance(value, Lanes):
        return value
    if isinstance(value, np.generic):
        kind = _NUMPY[value.dtype]
    if kind in ("float", "double"):
        written = f"0x{struct.pack('>d', float(value)).hex().upper()}"
    else:
        written = str(int(value))
    return Lanes(kind, f"splat ({kind} {written})")


def _both(left: Any, right: Any) -> tuple[Lanes, Lanes]:
    kind = left.kind if isinstance(left, Lanes) else right.kind
    return lifted(left, kind), lifted(right, kind)


def _arithmetic(operation: str, left: Any, right: Any) -> Lanes:
    one, other = _both(left, right)
    named = operation if one.kind == "i32" else f"f{operation} contract"
    return _made(one.kind, f"{named} {one.typed}, {other.name}")


def _compared(how: str, left: Any, right: Any) -> Lanes:
    one, other = _both(left, right)
    return _made("i1", f"fcmp {how} {one.typed}, {other.name}")


def select(condition: Any, chosen: Any, other: Any) -> Lanes:
    """``chosen`` where ``condition`` holds, else ``other``; both are computed, nothing branches."""
    yes, no = lifted(chosen), lifted(other)
    return _made(yes.kind, f"select {lifted(condition).typed}, {yes.typed}, {no.typed}")


def _called(name: str) -> Callable[[Any], Lanes]:
    def operation(value: Any) -> Lanes:
        """LLVM's own function of one number."""
        one = lifted(value)
        known = f"@llvm.{name}.v{_TEXT.get().width}f32"
        _TEXT.get().functions.add(f"declare {_vector('float')} {known}({_vector('float')})")
        return _made("float", f"call {_vector('float')} {known}({one.typed})")

    return operation


floor = _called("floor")
root = _called("sqrt")
magnitude = _called("fabs")


def _turned(how: str, kind: str) -> Callable[[Any], Lanes]:
    def operation(value: Any) -> Lanes:
        """The same as numbers of another kind."""
        return _made(kind, f"{how} {lifted(value).typed} to {_vector(kind)}")

    return operation


to_int = _turned("fptosi", "i32")
to_float = _turned("sitofp", "float")
float_bits = _turned("bitcast", "i32")
bits_float = _turned("bitcast", "float")
wide = _turned("fpext", "double")
narrow = _turned("fptrunc", "float")


def _whole(operation: str) -> Callable[[Any, Any], Lanes]:
    def operate(left: Any, right: Any) -> Lanes:
        """One operation on whole numbers."""
        return _made("i32", f"{operation} {lifted(left).typed}, {lifted(right).name}")

    return operate


add_bits = _whole("add")
times_bits = _whole("mul")
xor_bits = _whole("xor")
and_bits = _whole("and")
shift_right = _whole("lshr")
shift_left = _whole("shl")


def load(pointer: Pointer, index: int | Offset | Lanes) -> Lanes:
    """The number at an index in every lane; those at a place; or each lane's at its own index."""
    text, floats = _TEXT.get(), _vector("float")
    if isinstance(index, Lanes):
        pointers, every = _vector("ptr"), f"{_vector('i1')} splat (i1 true)"
        gather = f"@llvm.masked.gather.v{_TEXT.get().width}f32.v{_TEXT.get().width}p0"
        text.functions.add(f"declare {floats} {gather}({pointers}, i32, {_vector('i1')}, {floats})")
        where = text.value(f"getelementptr float, ptr {pointer.name}, {index.typed}")
        return _made("float", f"call {floats} {gather}({pointers} {where}, i32 4, {every}, {floats} poison)")
    if isinstance(index, Offset):
        held = text.stored.get((pointer.name, index.more))
        return held or _made("float", f"load {floats}, ptr {pointer.at(index)}, align 4")
    one = text.value(f"load float, ptr {pointer.at(index)}, align 4", once=True)
    first = text.value(f"insertelement {floats} poison, float {one}, i64 0", once=True)
    spread = f"shufflevector {floats} {first}, {floats} poison, {_vector('i32')} zeroinitializer"
    return Lanes("float", text.value(spread, once=True))


def store(pointer: Pointer, index: Offset, value: Any) -> None:
    """Write lanes at a place."""
    _TEXT.get().stored[pointer.name, index.more] = lifted(value)


def byte_in(pointer: Pointer, index: Any) -> Lanes:
    """Each lane's byte at its own i32 index, as i32; three more bytes than are used have to lie behind the last."""
    text, whole, pointers = _TEXT.get(), _vector("i32"), _vector("ptr")
    gather = f"@llvm.masked.gather.v{text.width}i32.v{text.width}p0"
    text.functions.add(f"declare {whole} {gather}({pointers}, i32, {_vector('i1')}, {whole})")
    where = text.value(f"getelementptr i8, ptr {pointer.name}, {lifted(index).typed}")
    every = f"{_vector('i1')} splat (i1 true)"
    four = _made("i32", f"call {whole} {gather}({pointers} {where}, i32 1, {every}, {whole} poison)")
    return and_bits(four, np.int32(255))


def store_three(pointer: Pointer, value: Lanes) -> None:
    """Write the lower three bytes of i32 lanes, pixel by pixel one behind the other."""
    text = _TEXT.get()
    order = ", ".join(f"i32 {4 * (n // 3) + n % 3}" for n in range(3 * text.width))
    four, three = f"<{4 * text.width} x i8>", f"<{3 * text.width} x i8>"
    split = text.value(f"bitcast {value.typed} to {four}")
    kept = text.value(f"shufflevector {four} {split}, {four} poison, <{3 * text.width} x i32> <{order}>")
    first = text.value(f"getelementptr [3 x i8], ptr {pointer.name}, i64 %n")
    text.loop.append(f"  store {three} {kept}, ptr {first}, align 1")


def leave(pointer: Pointer, index: Offset) -> None:
    """Do not write what was stored at a place: nobody reads it."""
    _TEXT.get().stored.pop((pointer.name, index.more), None)


def tile() -> tuple[Offset]:
    """The places of a tile, ``width`` pixels at a time: what is done with one is done with all."""
    return (Offset(),)


SHARED = ("light", "spectrum")
"""What all kernels of a row take alike, by the names of their arguments."""


def assembly(kernels: Sequence[Callable[..., None]], width: int = 16) -> str:
    """``kernels``, one after the other on the same pixels, as one function ``kernel`` in LLVM's language.

    It takes a pointer to the addresses of the arguments of all in turn, of SHARED ones the first time. What a kernel
    stores the next one loads without a way through memory; it is written at the end. width: pixels at a time, which
    divides TILE and changes no bit; several registers full of them keep a processor busy while it waits for results.
    """
    text, known = _Written(width), dict[str, Pointer]()
    before = _TEXT.set(text)
    try:
        for number, kernel in enumerate(kernels):
            names = [name if name in SHARED else f"{name}.{number}" for name in signature(kernel).parameters]
            for name in names:
                if name not in known:
                    where = text.value(f"getelementptr ptr, ptr %addresses, i64 {len(known)}", once=True)
                    known[name] = Pointer(text.value(f"load ptr, ptr {where}", once=True))
            kernel(*(known[name] for name in names))
        for (name, more), value in text.stored.items():
            text.loop.append(f"  store {value.typed}, ptr {Pointer(name).at(Offset(more))}, align 4")
    finally:
        _TEXT.reset(before)
    return "\n".join([
        "define void @kernel(ptr %addresses) nounwind {",
        "entry:",
        *text.once,
        "  br label %loop",
        "loop:",
        "  %n = phi i64 [ 0, %entry ], [ %next, %loop ]",
        *text.loop,
        f"  %next = add nuw nsw i64 %n, {width}",
        f"  %again = icmp ult i64 %next, {TILE}",
        "  br i1 %again, label %loop, label %end",
        "end:",
        "  ret void",
        "}",
        *sorted(text.functions),
    ]) + "\n"  # fmt: skip
