"""The second look: what is found is told of the version that is shown, and of no other."""

import pytest

from eavesong.watch import told
from eavesong.watch.edits import Turned
from eavesong.watch.examiner import LeftOffError
from watched import SHOW, until


def test_what_deserves_a_second_look_is_told(studio):
    """Whether there is anything to be said or not."""
    until(lambda: "findings" in studio.parts)
    assert studio.parts["findings"] == []


def test_a_finding_that_is_mended_goes_away(studio, tmp_path):
    show = tmp_path / "two.show.toml"
    show.write_text(SHOW.replace('on = "roofline"', 'on = "roofline"\nbars = [90, 95]'))
    studio.saved_again()
    until(lambda: any("begin after the song" in found["found"] for found in studio.parts.get("findings", ())))
    show.write_text(SHOW)
    studio.saved_again()
    until(lambda: not any("begin after the song" in found["found"] for found in studio.parts["findings"]))


def test_the_whole_song_is_looked_through_when_nothing_changes(studio):
    assert until(lambda: "limits" in studio.parts) is True
    assert [found["place"] for found in studio.parts["limits"]] == ["supply"]  # the house names none


def test_limits_of_another_version_are_not_told(studio):
    until(lambda: "limits" in studio.parts)
    studio.turn(Turned(0, "opacity", 0.2))
    until(lambda: studio.shown.scene.cues[0].opacity == 0.2)
    until(lambda: "limits" not in studio.parts or studio.parts["edits"]["count"] == 1)
    studio.tell_of(studio.saved, "limits", [{"found": "of the file"}])
    assert studio.parts.get("limits") != [{"found": "of the file"}]


def test_at_the_end_nothing_is_left_at_work(studio):
    """A process that ends while a thread compiles is ended by the compiler."""
    assert studio.end()
    assert not studio._examiner._thread.is_alive()


def test_a_look_that_nobody_waits_for_is_left_off(studio):
    calls = []

    def go_on():
        calls.append(1)
        raise LeftOffError

    with pytest.raises(LeftOffError):
        told.limits_of(studio.shown, go_on)
    assert calls == [1]
