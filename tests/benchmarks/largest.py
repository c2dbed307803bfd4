"""How long the largest programs that effects may be take to compile, on one core, nothing kept.

    python tests/benchmarks/largest.py

They should take a few seconds at most: the weights of functions (``language/builtins.py``) are set by that.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path[0] = str(Path(__file__).parents[1])  # for what the tests of limits are made of


def main() -> None:
    """A line for each kind of program: its weight and its seconds of processor."""
    from eavesong.kernels.store import object_of_sources
    from eavesong.language.emit import emit
    from language.test_limits import LARGEST, chain
    from support import effect

    object_of_sources(emit(effect("level = x\ncolour = linear_rgb(1, 1, 1)").program, "first"))  # loads the compiler
    for kind, (step, count) in LARGEST.items():
        program = effect(chain(step, count)).program
        begun = time.process_time()
        object_of_sources(emit(program, f"largest {kind}"))
        print(f"{kind:12} weight {program.weight:5}  {time.process_time() - begun:5.2f} s")


if __name__ == "__main__":
    main()
