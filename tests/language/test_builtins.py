"""The one table of the language: every function says what it takes and does, every input its unit."""

from eavesong.kernels import fast
from eavesong.language.builtins import FUNCTIONS, INPUTS, OPERATIONS


def test_every_function_says_what_it_does_and_takes():
    for name, function in FUNCTIONS.items():
        assert function.about, name
        assert len(set(function.arguments)) == len(function.arguments) >= 1, name
        assert 0 <= function.optional < len(function.arguments), name


def test_every_input_has_a_unit_and_a_word():
    for entry in INPUTS.values():
        assert entry.unit, entry.name
        assert entry.about, entry.name


def test_every_operation_has_its_reference_and_its_kernel():
    for name, operation in OPERATIONS.items():
        assert callable(operation.exact), name
        if operation.kernel.isidentifier():
            assert hasattr(fast, operation.kernel), name
