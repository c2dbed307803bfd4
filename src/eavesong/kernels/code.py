"""Machine code in a file, loaded by LLVM alone: a run that finds all that it needs never imports numba.

A file begins with the SHA-256 of what follows, so damaged code is never run; then a line of JSON that names the
function, and the symbols that its code asks the process for; then the object code.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from eavesong.files import write_whole

DIGEST = hashlib.sha256().digest_size


@dataclass(frozen=True)
class Code:
    """A function in machine code. Its ``address`` can be called for as long as this value lives."""

    address: int
    home: Any = field(repr=False)
    """What owns the memory that the code lies in."""


def load(path: Path) -> Code | None:
    """The code kept in a file; None where there is none, or where it is damaged."""
    try:
        data = path.read_bytes()
    except OSError:
        return None
    if hashlib.sha256(data[DIGEST:]).digest() != data[:DIGEST]:
        return None
    head, _, code = data[DIGEST:].partition(b"\n")
    return _loaded(code, **json.loads(head))


def _loaded(code: bytes, function: str, asks: list[str]) -> Code | None:
    from llvmlite import binding

    machine = _machine()
    for symbol in asks:
        if not binding.address_of_symbol(symbol):
            # What numba's runtime would do for a kernel that raises or allocates. Ours do neither, but LLVM ends the
            # process where a symbol is missing.
            binding.add_symbol(symbol, binding.address_of_symbol("abort"))
    engine = binding.create_mcjit_compiler(binding.parse_assembly(""), machine.create_target_machine(jit=True))
    engine.add_object_file(binding.ObjectFileRef.from_data(code))
    engine.finalize_object()
    address = engine.get_function_address(function)
    return Code(address, engine) if address else None


@cache
def _machine() -> Any:
    """This processor, as LLVM knows it."""
    from llvmlite import binding

    binding.initialize_native_target()
    binding.initialize_native_asmprinter()
    return binding.Target.from_default_triple()


def keep(path: Path, function: Any) -> None:
    """Keep the machine code of a numba cfunc in a file. Raises OutputError where it cannot be written."""
    library, name = function._library, function._wrapper_name
    head = json.dumps({"function": name, "asks": _asks(library._final_module)})
    data = head.encode() + b"\n" + library._get_compiled_object()
    write_whole(path, hashlib.sha256(data).digest() + data)


def _asks(module: Any) -> list[str]:
    """The functions and values that a compiled module needs from the process around it."""
    outside = (value for values in (module.functions, module.global_variables) for value in values)
    return sorted(value.name for value in outside if value.is_declaration and not value.name.startswith("llvm."))
