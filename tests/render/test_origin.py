"""What frames were made by: another engine is another origin, the same code the same one."""

import subprocess
import sys

from eavesong.render.origin import made_by


def test_engines_differ_and_a_fresh_process_agrees():
    assert made_by("numba") != made_by("plain")
    code = "from eavesong.render.origin import made_by; print(made_by())"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip()
    assert told == made_by()
    assert len(bytes.fromhex(told)) == 32  # SHA-256 (FIPS 180-4)
