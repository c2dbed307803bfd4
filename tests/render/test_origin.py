"""What frames were made by: another engine is another origin, the same code the same one."""

import hashlib
import subprocess
import sys
from types import SimpleNamespace

from eavesong.render.origin import made_by, other_sources


def test_engines_differ_and_a_fresh_process_agrees():
    assert made_by("numba") != made_by("plain")
    code = "from eavesong.render.origin import made_by; print(made_by())"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip()
    assert told == made_by()
    assert len(bytes.fromhex(told)) == 32  # SHA-256 (FIPS 180-4)


def test_a_show_that_asks_for_other_effects_is_changed_and_they_are_not():
    def told(show: str, **effects: str) -> list[str]:
        """What differs from frames of the show 'a' with the effect 'glow'."""
        given = SimpleNamespace(text=show, effects={name: SimpleNamespace(text=text) for name, text in effects.items()})
        kept = {"beats file": "b", "sections file": "s", "events file": "e", "audio": "s"}
        hashes = kept | {"show": digest("a"), "effect glow": digest("one"), "layout files": "h"}
        return [*other_sources(hashes, given, SimpleNamespace(content_hash="h"), kept)]

    assert told("a", glow="one") == []
    assert told("b", glow="one", roll="two") == ["the show"]
    assert told("b", roll="two") == ["the show"]
    assert told("a", glow="another") == ["an effect"]
    assert told("b", glow="another", roll="two") == ["the show", "an effect"]


def digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
