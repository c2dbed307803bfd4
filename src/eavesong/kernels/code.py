"""Machine code in a file, loaded by LLVM alone: a run that finds all that it needs never imports numba.

A file begins with the SHA-256 of what follows, so damaged code is never run; then a line with the name of the
function; then the object code. Only code that asks nothing of the process around it is kept, apart from what C
programs find everywhere: what would need numba's runtime could not be run without numba.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib
import os
from dataclasses import dataclass, field
from pathlib import Path
from threading import Thread
from typing import Any

from eavesong.files import write_whole

DIGEST = hashlib.sha256().digest_size

EVERYWHERE = frozenset({"memcpy", "memmove", "memset"})
"""What machine code may ask of the process: LLVM itself makes calls of these."""


@dataclass(frozen=True)
class Code:
    """A function in machine code. Its ``address`` can be called for as long as this value lives."""

    address: int
    home: Any = field(repr=False)
    """What owns the memory that the code lies in."""


@dataclass(frozen=True)
class Object:
    """A function as it is kept: its name among the symbols of the object code, and what that asks the process for."""

    function: str
    code: bytes
    asks: frozenset[str]

    @property
    def alone(self) -> bool:
        """Whether it runs without numba's runtime."""
        return self.asks <= EVERYWHERE


def load_meanwhile() -> None:
    """Have another thread load LLVM, which takes 30 ms, while this one does what needs none."""

    def loading() -> None:
        """Import it; where there is none, whoever needs it will say so."""
        with contextlib.suppress(ImportError):
            importlib.import_module("llvmlite.binding")

    Thread(target=loading).start()


def load(path: Path) -> Code | None:
    """The code kept in a file; None where there is none, or where it is damaged."""
    try:
        data = path.read_bytes()
    except OSError:
        return None
    if hashlib.sha256(data[DIGEST:]).digest() != data[:DIGEST]:
        return None
    function, _, code = data[DIGEST:].partition(b"\n")
    return linked(Object(function.decode(), code, frozenset()))


def keep(path: Path, what: Object) -> None:
    """Keep an object that is alone in a file. Raises OutputError where it cannot be written."""
    data = what.function.encode() + b"\n" + what.code
    write_whole(path, hashlib.sha256(data).digest() + data)


def linked(what: Object) -> Code:
    """The object in memory, ready to run. One that is not alone asks for a numba that has been imported."""
    from llvmlite import binding

    # One piece of memory for all of it, so that code reaches its numbers wherever that lies.
    engine = binding.create_mcjit_compiler(binding.parse_assembly(""), _machine(), use_lmm=True)
    engine.add_object_file(binding.ObjectFileRef.from_data(what.code))
    engine.finalize_object()
    return Code(engine.get_function_address(what.function), engine)


def _machine() -> Any:
    """This processor, as LLVM knows it; its widest registers are used, which LLVM by itself avoids on some."""
    from llvmlite import binding

    binding.initialize_native_target()
    binding.initialize_native_asmprinter()
    can = binding.get_host_cpu_features()
    if can.get("avx512f"):
        can["prefer-256-bit"] = False
    cpu = binding.get_host_cpu_name()
    # On Windows, too, LLVM loads what it compiled only in the form that other systems have.
    target = binding.Target.from_triple(binding.get_default_triple() + ("-elf" if os.name == "nt" else ""))
    return target.create_target_machine(cpu, can.flatten(), opt=3, reloc="pic", codemodel="small", jit=True)


def pixels_at_once() -> int:
    """How many pixels a kernel computes side by side: four registers of the widest, which come in twice the number."""
    from llvmlite import binding

    return 64 if binding.get_host_cpu_features().get("avx512f") else 16


def looks_up_fast() -> bool:
    """Whether this processor reads from many places at once faster than one after the other: AVX-512 of Intel's, where
    it is not slowed down for safety's sake ("gather data sampling")."""
    from llvmlite import binding

    wide = binding.get_host_cpu_features().get("avx512f") and not binding.get_host_cpu_name().startswith("znver")
    try:
        return bool(wide) and "Not affected" in _SLOWED.read_text(encoding="ascii")
    except OSError:
        return False


_SLOWED = Path("/sys/devices/system/cpu/vulnerabilities/gather_data_sampling")


def assembled(text: str, function: str) -> Object:
    """The machine code of a function in LLVM's language that calls none but LLVM's own."""
    machine = _machine()
    return Object(function, machine.emit_object(_optimised(text, machine)), frozenset())


def listing(text: str) -> str:
    """The same in this processor's assembly."""
    machine = _machine()
    found: str = machine.emit_assembly(_optimised(text, machine))
    return found


def _optimised(text: str, machine: Any) -> Any:
    from llvmlite import binding

    module = binding.parse_assembly(text)
    module.triple, module.data_layout = machine.triple, str(machine.target_data)
    options = binding.create_pipeline_tuning_options(2)
    options.loop_unrolling = False
    builder = binding.create_pass_builder(machine, options)
    builder.getModulePassManager().run(module, builder)
    return module


def object_of(library: Any, function: str) -> Object:
    """The machine code of one function of a library that numba compiled, and of what it calls; nothing else of it."""
    from llvmlite import binding

    module = binding.parse_assembly(library.get_llvm_str())
    for part in (module.functions, module.global_variables):
        for value in part:
            if not value.is_declaration and value.name != function:
                value.linkage = "internal"
    passes = binding.create_new_module_pass_manager()
    passes.add_global_dead_code_eliminate_pass()
    machine = library.codegen._tm
    passes.run(module, binding.create_pass_builder(machine, binding.create_pipeline_tuning_options()))
    outside = (value for values in (module.functions, module.global_variables) for value in values)
    asks = {v.name for v in outside if v.is_declaration and not v.name.startswith("llvm.")}
    return Object(function, machine.emit_object(module), frozenset(asks))
