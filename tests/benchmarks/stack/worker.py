"""One contender in a process of its own, so that no array tool's threads or settings disturb another's.

`python -m stack.worker NAME PLACES.npz`: answers a line of JSON on standard output for each line of JSON it reads.
"""

import importlib
import json
import os
import sys
import time

import numpy as np


def main():
    answers = os.fdopen(os.dup(1), "w", buffering=1)
    os.dup2(2, 1)  # whatever a contender prints itself goes to standard error
    contender, reason = _load(sys.argv[1])
    answers.write(json.dumps({"name": getattr(contender, "name", sys.argv[1]), "reason": reason}) + "\n")
    if reason:
        return
    with np.load(sys.argv[2]) as file:
        places = {key: file[key] for key in file.files}
    for line in sys.stdin:
        answers.write(json.dumps(_run(contender, places, **json.loads(line))) + "\n")


def _load(name):
    """The contender's module and None, or what is missing."""
    try:
        contender = importlib.import_module(f"stack.stack_{name}")
    except ModuleNotFoundError as missing:
        return None, f"not installed ({missing.name})"
    return contender, contender.available()


def _run(contender, places, first, count, sparkle=True, save=None):
    start = time.perf_counter()
    rendered = contender.render(places, range(first, first + count), sparkle=sparkle)
    seconds = time.perf_counter() - start
    if save:
        np.save(save, rendered)
    return {"seconds": seconds, "shape": rendered.shape, "dtype": str(rendered.dtype)}


if __name__ == "__main__":
    main()
