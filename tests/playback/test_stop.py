"""Being told to stop: once in good order, twice from the keyboard at once."""

import os
import signal

import pytest

from eavesong.playback.stop import Stop, stop_on_signals


def test_the_first_signal_asks_and_is_remembered():
    stop = Stop()
    stop.ask(signal.SIGTERM)
    stop.ask(signal.SIGTERM)
    assert (stop.asked, stop.signal, stop.interrupted) == (True, signal.SIGTERM, False)


def test_a_second_interrupt_from_the_keyboard_ends_at_once():
    now = [10.0]
    stop = Stop(lambda: now[0])
    stop.ask(signal.SIGINT)
    assert stop.interrupted
    now[0] += 1.0
    with pytest.raises(KeyboardInterrupt):
        stop.ask(signal.SIGINT)


def test_one_key_press_that_arrives_twice_is_one():
    """`timeout` of the GNU core utilities sends its signal to the program, and then to the group it is in."""
    now = [10.0]
    stop = Stop(lambda: now[0])
    for moment in (10.0, 10.001, 10.3):
        now[0] = moment
        stop.ask(signal.SIGINT)
    assert stop.interrupted


def test_handlers_are_put_back():
    before = signal.getsignal(signal.SIGTERM)
    with stop_on_signals() as stop:
        os.kill(os.getpid(), signal.SIGTERM)
        assert stop.asked
    assert signal.getsignal(signal.SIGTERM) is before
