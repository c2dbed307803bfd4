"""Machine operations on single float32 and int32 values, worded so that LLVM vectorises the loop around them.

numba widens int32 to int64, turns conditional expressions into branches and cannot say that two pointers never
meet. Each intrinsic here is one LLVM instruction that does not. Loads are marked invariant and outside the scope
of the stores, so a table look-up with computed indices vectorises as a gather without any run-time check.
"""

from __future__ import annotations

from typing import Any

from llvmlite import ir
from numba import njit, types
from numba.extending import intrinsic

from eavesong.kernels.exact import TILE as TILE

FLOATS = types.CPointer(types.float32)
"""A pointer to float32 values."""

MATHS = {"contract"}
"""Floating-point freedom: a multiply and an add may fuse, nothing else, so that bits never depend on the tile."""

_NOBODY: dict[str, Any] = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
inner = njit(error_model="numpy", **_NOBODY)
"""Makes a function that only kernels call: nothing is compiled for callers from Python or C, whom it would crash."""

_I32 = ir.IntType(32)
_I64 = ir.IntType(64)
_F32 = ir.FloatType()


def _stores_scope(module):
    domain = module.add_metadata(["eavesong tiles"])
    scope = module.add_metadata(["eavesong out", domain])
    return module.add_metadata([scope])


@intrinsic
def load_own(typingctx, pointer, index):
    """The float32 at ``pointer[index]``, from memory that the kernel itself writes."""

    def code(context, builder, signature, args):
        """LLVM: a plain load."""
        return builder.load(builder.gep(args[0], [args[1]], inbounds=True), align=4)

    return types.float32(FLOATS, types.intp), code


@intrinsic
def store(typingctx, pointer, index, value):
    """Write float32 ``value`` to ``pointer[index]``."""

    def code(context, builder, signature, args):
        """LLVM: a store that no load of a plane depends on."""
        written = builder.store(args[2], builder.gep(args[0], [args[1]], inbounds=True), align=4)
        written.set_metadata("alias.scope", _stores_scope(builder.module))
        return context.get_dummy_value()

    return types.void(FLOATS, types.intp, types.float32), code


@intrinsic
def select(typingctx, condition, chosen, other):
    """``chosen`` where ``condition`` holds, else ``other``; both are computed, nothing branches."""

    def code(context, builder, signature, args):
        """LLVM: a select."""
        return builder.select(*args)

    return types.float32(types.boolean, types.float32, types.float32), code


def _float_operation(name):
    @intrinsic
    def operation(typingctx, value):
        """float32 in, float32 out."""

        def code(context, builder, signature, args):
            """LLVM: a call of the operation."""
            return builder.call(builder.module.declare_intrinsic(name, [_F32]), args)

        return types.float32(types.float32), code

    return operation


magnitude = _float_operation("llvm.fabs")
nearest = _float_operation("llvm.rint")


def _conversion(result, argument, emit):
    @intrinsic
    def operation(typingctx, value):
        """One number in, one of the other type out."""

        def code(context, builder, signature, args):
            """LLVM: the conversion."""
            return emit(builder, args[0])

        return result(argument), code

    return operation


to_int = _conversion(types.int32, types.float32, lambda builder, value: builder.fptosi(value, _I32))
float_bits = _conversion(types.int32, types.float32, lambda builder, value: builder.bitcast(value, _I32))
bits_float = _conversion(types.float32, types.int32, lambda builder, value: builder.bitcast(value, _F32))


def _int_operation(emit):
    @intrinsic
    def operation(typingctx, left, right):
        """Two int32 in, one out."""

        def code(context, builder, signature, args):
            """LLVM: the operation."""
            return emit(builder, *args)

        return types.int32(types.int32, types.int32), code

    return operation


add_bits = _int_operation(lambda builder, left, right: builder.add(left, right))
xor_bits = _int_operation(lambda builder, left, right: builder.xor(left, right))
shift_left = _int_operation(lambda builder, left, right: builder.shl(left, right))


@intrinsic
def run_kernel(typingctx, address, addresses):
    """Call what was compiled of a row of kernels with the address of the addresses of all that they take."""

    def code(context, builder, signature, args):
        """LLVM: an indirect call."""
        pointer = _I64.as_pointer()
        target = builder.inttoptr(args[0], ir.FunctionType(ir.VoidType(), [pointer]).as_pointer())
        builder.call(target, [builder.inttoptr(args[1], pointer)])
        return context.get_dummy_value()

    return types.void(types.int64, types.int64), code


@intrinsic
def floats_at(typingctx, address):
    """The pointer to float32 values at an address given as int64."""

    def code(context, builder, signature, args):
        """LLVM: a number as a pointer."""
        return builder.inttoptr(args[0], _F32.as_pointer())

    return FLOATS(types.int64), code


@intrinsic
def byte_at(typingctx, address, index):
    """The byte at ``address + index`` as an int32, from a table that nothing writes while the kernel runs."""

    def code(context, builder, signature, args):
        """LLVM: a byte, widened."""
        pointer = builder.inttoptr(args[0], ir.IntType(8).as_pointer())
        value = builder.load(builder.gep(pointer, [args[1]], inbounds=True), align=1)
        value.set_metadata("invariant.load", builder.module.add_metadata([]))
        value.set_metadata("noalias", _stores_scope(builder.module))
        return builder.zext(value, _I32)

    return types.int32(types.int64, types.int32), code


@intrinsic
def byte_own(typingctx, address, index):
    """The byte at ``address + index`` as a float32, from memory that the kernel itself writes."""

    def code(context, builder, signature, args):
        """LLVM: a byte as a float."""
        pointer = builder.inttoptr(args[0], ir.IntType(8).as_pointer())
        return builder.uitofp(builder.load(builder.gep(pointer, [args[1]], inbounds=True), align=1), _F32)

    return types.float32(types.int64, types.intp), code


@intrinsic
def put_byte(typingctx, address, index, value):
    """Write float32 ``value``, 0..255, as the byte at ``address + index``."""

    def code(context, builder, signature, args):
        """LLVM: a byte, cut off at the point."""
        byte = builder.trunc(builder.fptosi(args[2], _I32), ir.IntType(8))
        pointer = builder.inttoptr(args[0], ir.IntType(8).as_pointer())
        written = builder.store(byte, builder.gep(pointer, [args[1]], inbounds=True), align=1)
        written.set_metadata("alias.scope", _stores_scope(builder.module))
        return context.get_dummy_value()

    return types.void(types.int64, types.intp, types.float32), code


@intrinsic
def copy_byte(typingctx, address, value):
    """Write int32 ``value``, 0..255, as the byte at ``address``."""

    def code(context, builder, signature, args):
        """LLVM: one byte, wherever it lies."""
        pointer = builder.inttoptr(args[0], ir.IntType(8).as_pointer())
        written = builder.store(builder.trunc(args[1], ir.IntType(8)), pointer, align=1)
        written.set_metadata("alias.scope", _stores_scope(builder.module))
        return context.get_dummy_value()

    return types.void(types.int64, types.int32), code
