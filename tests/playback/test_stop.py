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
    stop = Stop()
    stop.ask(signal.SIGINT)
    assert stop.interrupted
    with pytest.raises(KeyboardInterrupt):
        stop.ask(signal.SIGINT)


def test_handlers_are_put_back():
    before = signal.getsignal(signal.SIGTERM)
    with stop_on_signals() as stop:
        os.kill(os.getpid(), signal.SIGTERM)
        assert stop.asked
    assert signal.getsignal(signal.SIGTERM) is before
