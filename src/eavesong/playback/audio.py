"""The song out of the loudspeaker, and where it is: the audio device's own position leads the light.

A device plays 44,100 samples in a second of its own crystal, not of the computer's, and the two part by some
milliseconds a minute. So the song's position is the number of samples that have reached the converter.
"""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from eavesong.errors import AudioError
from eavesong.playback.urgency import close_behind

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.playback.clock import Time

BLOCKS_AHEAD = 3
"""Decoded blocks kept ready, of about 1.5 s each: more than a busy disk takes, and little memory."""
SHARE_OF_NEW = 0.05
"""How far each report of the device moves the estimate: a second or so evens out its jitter."""
JUMP = 0.1
"""Seconds by which a report may differ before it is believed at once: the device has stood still."""
STALLED = 3.0
"""Seconds without a report after which the device counts as gone: sound servers ask for up to 2 s of samples at once
(seen with PulseAudio's null sink)."""
NOT_YET = 0.12
"""Seconds before its start at which a song is said to be until the device has reported: a little more than the player
reads ahead, so that it asks again every few milliseconds."""
SLOW_DISK = 30.0
"""Seconds that a song's first samples may take to be read."""
SLOW_START = 5.0
"""Seconds a device may take to begin."""


class AudioUnavailableError(Exception):
    """There is no way to make a sound here; the words say why."""


class Feeder:
    """Decodes a song ahead of the device, in a thread of its own; ``take`` never waits."""

    def __init__(self, path: Path, start: float) -> None:
        self._error: AudioError | None = None
        self.fault = ""
        self.ended = False
        """Whether everything has been taken."""
        self._blocks: queue.Queue[NDArray[np.float32] | None] = queue.Queue(BLOCKS_AHEAD)
        self._stop = threading.Event()
        self._ready = threading.Event()
        self._block = np.zeros((0, 1), np.float32)
        self.rate = self.channels = 0
        self._thread = threading.Thread(target=self._decode, args=(path, start), daemon=True)
        self._thread.start()
        if not self._ready.wait(SLOW_DISK):
            self._stop.set()
            raise AudioUnavailableError(f"{path} has not been read within {SLOW_DISK:g} seconds")
        if self._error is not None:
            raise self._error

    def take(self, count: int) -> NDArray[np.float32]:
        """The next samples, float32 (n, channel): ``count`` of them, fewer when they are not ready or at the end."""
        parts: list[NDArray[np.float32]] = []
        while count > 0:
            if not len(self._block) and not self._next_block():
                break
            parts.append(self._block[:count])
            count -= len(parts[-1])
            self._block = self._block[len(parts[-1]) :]
        return np.concatenate(parts) if parts else np.zeros((0, self.channels), np.float32)

    def close(self) -> None:
        """End the thread."""
        self._stop.set()
        self._thread.join(5.0)

    def _next_block(self) -> bool:
        if self.ended:
            return False
        try:
            block = self._blocks.get_nowait()
        except queue.Empty:
            return False
        if block is None:
            self.ended = True
            return False
        self._block = block
        return True

    def _decode(self, path: Path, start: float) -> None:
        from eavesong.music.sound import open_sound

        close_behind()
        try:
            with open_sound(path) as sound:
                self.rate, self.channels = sound.rate, min(2, sound.channels)
                for block in _from(sound.blocks(), round(start * sound.rate)):
                    if not self._put(np.ascontiguousarray(block[:, : self.channels])):
                        return
                    self._ready.set()
        except AudioError as fault:
            if not self._ready.is_set():
                self._error = fault
            self.fault = str(fault)
        finally:
            self._put(None)
            self._ready.set()

    def _put(self, block: NDArray[np.float32] | None) -> bool:
        while not self._stop.is_set():
            with contextlib.suppress(queue.Full):
                self._blocks.put(block, timeout=0.2)
                return True
        return False


def _from(blocks: Iterator[NDArray[np.float32]], first: int) -> Iterator[NDArray[np.float32]]:
    """The blocks without their ``first`` samples."""
    for block in blocks:
        if first < len(block):
            yield block[first:]
        first = max(0, first - len(block))


class AudioClock:
    """A song that is heard: plays it, and says where it is by what the device reports.

    When the device goes away the monotonic clock carries on from there, and ``fault`` says so.
    Raises AudioUnavailableError when there is no device, AudioError when the song cannot be read.
    """

    def __init__(self, path: Path, time: Time, start: float = 0.0, *, device: str | None = None) -> None:
        self.fault = ""
        self._time = time
        self._start = start
        self._played = 0
        self._offset: float | None = None
        """Estimate of song position minus device time; None until the device has reported."""
        self._heard_at = time.monotonic()
        self._last = start - NOT_YET
        self._taken_over: float | None = None
        """Song position minus monotonic time, once the device is gone."""
        module = _sounddevice()
        self._feeder = Feeder(path, start)
        try:
            self._stream = module.OutputStream(
                samplerate=self._feeder.rate, channels=self._feeder.channels, dtype="float32",
                callback=self._fill, device=_device(device),
            )  # fmt: skip
            self._stream.start()
        except Exception as fault:  # PortAudioError, and ValueError for an unknown device
            self._feeder.close()
            raise AudioUnavailableError(in_words(str(fault), device, self._feeder.rate, _outputs(module))) from None

    def position(self) -> float:
        """Seconds into the song, as heard now; before it begins, a time before its start."""
        now = self._time.monotonic()
        if self._taken_over is None and now - self._heard_at > (SLOW_START if self._offset is None else STALLED):
            self.fault = "the audio device has stopped; going on without sound"
            self._taken_over = max(self._last, self._start) - now
        if self._taken_over is not None:
            return self._taken_over + now
        if self._offset is not None:
            self._last = max(self._last, float(self._stream.time) + self._offset)
        return self._last

    def close(self) -> None:
        """Stop the sound."""
        with contextlib.suppress(Exception):
            self._stream.abort()
            self._stream.close()
        self._feeder.close()

    def _fill(self, out: NDArray[np.float32], count: int, times: Any, status: Any) -> None:
        """The device asks for ``count`` samples, to be heard from ``times.outputBufferDacTime`` on."""
        samples = self._feeder.take(count)
        out[: len(samples)] = samples
        out[len(samples) :] = 0
        heard = times.outputBufferDacTime or times.currentTime + float(self._stream.latency)
        self._believe(self._start + self._played / self._feeder.rate - heard)
        # A gap that is still to be filled holds the song up, and the light waits with it; silence after its end not.
        self._played += count if self._feeder.ended else len(samples)
        self._heard_at = self._time.monotonic()

    def _believe(self, offset: float) -> None:
        if self._offset is None or abs(offset - self._offset) > JUMP:
            self._offset = offset
        else:
            self._offset += SHARE_OF_NEW * (offset - self._offset)


def _sounddevice() -> Any:
    """The module ``sounddevice``, looked for when first needed."""
    try:
        import sounddevice
    except ImportError:
        raise AudioUnavailableError(f"sounddevice is not installed: {_how_to_install()}") from None
    except OSError:  # the module is there, the library is not
        advice = "install it (on Debian and Ubuntu: apt install libportaudio2)"
        raise AudioUnavailableError(f"the PortAudio library was not found: {advice}") from None
    return sounddevice


def _outputs(module: Any) -> dict[int, str]:
    """Number and name of each device that can make a sound."""
    try:
        found = list(module.query_devices())
        return {number: str(each["name"]) for number, each in enumerate(found) if each["max_output_channels"] > 0}
    except Exception:  # whatever ails the sound system, the light goes on
        return {}


def in_words(fault: str, chosen: str | None, rate: int, outputs: dict[int, str]) -> str:
    """What PortAudio's ``fault`` means to whoever wants to hear the song, and what helps.

    ``chosen`` is the device that was asked for, ``rate`` the song's in Hz, ``outputs`` number and name of each device.
    Codes as in portaudio.h (PaErrorCode).
    """
    if not outputs:
        return (
            "this computer has no sound device that may be used: plug one in, or let this user use it (on Linux, the "
            "group 'audio')"
        )
    names = ", ".join(f"{number} '{name}'" for number, name in outputs.items())
    if chosen is not None and ("matching" in fault or "querying device" in fault or "-9996" in fault):
        return f"no sound device is called '{chosen}'; there are {names}"
    if chosen is not None and "Multiple" in fault:
        return f"several sound devices are called '{chosen}'; give the number of one: {names}"
    if "-9997" in fault:
        return f"the sound device does not play {rate} samples a second: convert the song to 48000, or try --device"
    if "-9985" in fault:
        return "another program holds the sound device: end that, or try --device"
    return f"the sound device does not open ({fault.strip() or 'no reason given'}); there are {names}"


def _device(chosen: str | None) -> str | int | None:
    return int(chosen) if chosen and chosen.isdecimal() else chosen


def _how_to_install() -> str:
    """What brings sound: where only the player is installed, as on a small computer, it needs no more than that."""
    from importlib.util import find_spec

    if find_spec("numba") is None:
        return "install_player.py with --sound, or pip install sounddevice soundfile"
    return "pip install 'eavesong[audio]'"
