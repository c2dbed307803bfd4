"""What decoders say of their own accord."""

import os
import threading

from eavesong.music.hush import quiet


def test_what_is_written_to_the_descriptor_is_not_heard_and_what_comes_after_is(capfd):
    with quiet():
        os.write(2, b"junk")
    os.write(2, b"said")
    assert capfd.readouterr().err == "said"


def test_threads_that_overlap_restore_it_when_the_last_one_ends(capfd):
    inside, over = threading.Event(), threading.Event()

    def other() -> None:
        """Begins within the first block and ends after it."""
        with quiet():
            inside.set()
            over.wait(30)
            os.write(2, b"junk")

    thread = threading.Thread(target=other)
    with quiet():
        thread.start()
        assert inside.wait(30)
    over.set()
    thread.join()
    os.write(2, b"said")
    assert capfd.readouterr().err == "said"
