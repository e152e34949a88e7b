"""The stream itself: one callback for input and output, a watchdog beside it, and an end that never hangs."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from types import ModuleType
from typing import Any

from listener.errors import DeviceError
from listener.events import Block
from listener.room import portaudio
from listener.room.devices import Rig
from listener.room.intake import Intake, driver_round_trip
from listener.room.player import Player
from listener.room.rings import CaptureRing, PlayRing

BLOCK_FRAMES = 256
LATENCY_S = 0.1  # lower settings lose input as soon as another program works; grades go by time stamps anyway
AHEAD_S = 0.4
DEAD_S = 1.0
CLOSE_LIMIT_S = 2.0
_START_LIMIT_S = 3.0
_START_ROWS = 8
_LOOK_LIMIT_S = 0.3


class LatencySource(StrEnum):
    """Where the latency that is taken off comes from."""

    DRIVER = "driver"
    MEASURED = "measured"
    GIVEN = "given"
    UNKNOWN = "unknown"  # the driver tells nothing that can be true, or nothing is played: nothing is taken off


@dataclass(frozen=True, slots=True)
class Latency:
    """What is known of the way from output to input before a stream is opened.

    `beyond_driver` is a measured loop delay less the driver's own figure of that opening, in samples: the raw round
    trip changes with each opening, this does not. `given_s` is a whole round trip named by the player; it wins.
    """

    beyond_driver: int | None = None
    given_s: float | None = None

    def samples(self, driver: int | None, rate: int) -> tuple[int, LatencySource]:
        """The latency of a stream whose driver tells `driver` samples (None: nothing that can be true)."""
        if self.given_s is not None:
            return round(self.given_s * rate), LatencySource.GIVEN
        if driver is None:
            return 0, LatencySource.UNKNOWN
        if self.beyond_driver is not None:
            return driver + self.beyond_driver, LatencySource.MEASURED
        return driver, LatencySource.DRIVER


class Pulse:
    """Tells a stream that stands still from one that runs, by looking at it again and again.

    No single pause between two looks counts for more than 0.3 s: when this whole program was stopped and wakes up,
    the stream is not the one that stood still.
    """

    def __init__(self, now_s: float) -> None:
        self._seen = -1
        self._looked_s = now_s
        self._still_s = 0.0

    def stands_still(self, callbacks: int, now_s: float) -> bool:
        """Whether no callback has come for more than a second, `callbacks` being their count by now."""
        self._still_s = 0.0 if callbacks != self._seen else self._still_s + min(now_s - self._looked_s, _LOOK_LIMIT_S)
        self._seen, self._looked_s = callbacks, now_s
        return self._still_s > DEAD_S


class LiveSource:
    """The input as a source. `read_available` gives what is new without waiting; `blocks` waits, until it is closed.

    The latency is taken off here, once: a block's index is that of the band's sample the player heard at the time.
    """

    def __init__(self, duplex: Duplex, intake: Intake, latency_source: LatencySource) -> None:
        self.rate = duplex.rate
        self.latency_source = latency_source
        self._duplex = duplex
        self._intake = intake

    @property
    def latency_samples(self) -> int:
        return self._intake.latency_samples

    @property
    def captured_sample(self) -> int:
        """The index just beyond the last sample captured: how far the world has come."""
        return self._intake.captured_sample

    @property
    def lost(self) -> int:
        """Input frames lost by the device so far, each replaced by silence."""
        return self._intake.lost

    @property
    def flagged(self) -> int:
        """Callbacks in which the driver itself told of an overflow or underflow."""
        return self._intake.flagged

    def read_available(self) -> list[Block]:
        """Blocks of everything captured since the last call, in order and without holes."""
        blocks = self._intake.read(at_end=self._duplex.closed)
        if self._duplex.player is not None:
            self._duplex.player.follow_gaps(self._intake.output_lost)
        if self._intake.slept_s:
            self._duplex.fault = f"the sound stood still for {self._intake.slept_s:.0f} s: this machine slept"
        return blocks

    def blocks(self) -> Iterator[Block]:
        """Blocks as they come; DeviceError, after the last of them, when the device goes away."""
        while not self._duplex.closed:
            yield from self.read_available()
            try:
                self._duplex.check()
            except DeviceError:
                yield from self.read_available()
                raise
            time.sleep(BLOCK_FRAMES / self.rate)
        yield from self.read_available()


class Duplex:
    """A rig that runs. Made by `open_rig`; `player` is None where there is no output, and `note` then says why.

    `check` is to be called every quarter of a second or so, `close` once. Everything runs in the caller's thread but
    the callback, which copies and counts.
    """

    def __init__(self, rig: Rig, rate: int, note: str | None) -> None:
        self.rig = rig
        self.rate = rate
        self.note = note
        self.closed = False
        self.capture = CaptureRing(rate)
        self.play_ring = PlayRing(rate, AHEAD_S)
        self.player = None if rig.output is None else Player(self.play_ring, rate, AHEAD_S)
        self.finished = False
        self.fault: str | None = None
        self.driver_latency: int | None = None
        self._stream: Any = None
        self._pulse = Pulse(time.monotonic())
        self._column = rig.channel - 1

    def start(self, sounddevice: ModuleType, latency_s: float, block_frames: int) -> None:
        """Open the stream and let it run. Raises what sounddevice raises."""
        settings = {
            "samplerate": self.rate,
            "blocksize": block_frames,
            "dtype": "float32",
            "latency": latency_s,
            "finished_callback": self._finish,
        }
        inputs = self.rig.channel
        if self.rig.output is None:
            self._stream = sounddevice.InputStream(
                device=self.rig.input.index, channels=inputs, callback=self._hear, **settings
            )
        else:
            if self.player is not None:
                self.player.pump()
            outputs = min(2, self.rig.output.outputs)
            self._stream = sounddevice.Stream(
                device=(self.rig.input.index, self.rig.output.index),
                channels=(inputs, outputs),
                callback=self._hear_and_play,
                **settings,
            )
        self._stream.start()

    def wait_for_sound(self, latency: Latency) -> LiveSource:
        """The source, once the first callbacks have told the driver's latency. DeviceError where none come."""
        deadline_s = time.monotonic() + _START_LIMIT_S
        while self.capture.rows_written < _START_ROWS:
            if time.monotonic() > deadline_s or self.finished:
                raise DeviceError(f"{self.rig.who} was opened but delivers no sound")
            time.sleep(0.005)
        driver = None if self.player is None else driver_round_trip(self.capture, self.rate)
        samples, source = latency.samples(driver, self.rate)
        self.driver_latency = driver
        return LiveSource(self, Intake(self.capture, self.rate, samples), source)

    def check(self) -> None:
        """DeviceError, within two seconds of it, when the device has gone away or its server hangs."""
        if self.closed:
            return
        if self.fault is not None:
            raise DeviceError(self.fault)
        still = self._pulse.stands_still(self.capture.rows_written, time.monotonic())
        if self.finished or still or not self._stream.active:
            raise DeviceError(f"{self.rig.who} went away")

    def close(self) -> bool:
        """End the stream; False where it would not end within two seconds, and the program should leave by `os._exit`
        when its work is saved. What was captured stays readable."""
        if self.closed or self._stream is None:
            self.closed = True
            return True
        self.closed = True
        ending = threading.Thread(target=self._end, name="sound-close", daemon=True)
        with portaudio.quiet():
            ending.start()
            ending.join(CLOSE_LIMIT_S)
        return not ending.is_alive()

    def _end(self) -> None:
        self._stream.abort(ignore_errors=True)  # never stop(): it waits for a server that may be frozen
        self._stream.close(ignore_errors=True)

    def _finish(self) -> None:
        self.finished = True

    def _hear(self, indata: Any, frames: int, times: Any, status: Any) -> None:
        self.capture.put(indata[:, self._column], times.inputBufferAdcTime, 0.0, _flags(status))

    def _hear_and_play(self, indata: Any, outdata: Any, frames: int, times: Any, status: Any) -> None:
        self.capture.put(indata[:, self._column], times.inputBufferAdcTime, times.outputBufferDacTime, _flags(status))
        self.play_ring.take(outdata)


def _flags(status: Any) -> int:
    """PortAudio's flags as bits: input under 1, over 2; output under 4, over 8."""
    if not status:
        return 0
    told = (status.input_underflow, status.input_overflow, status.output_underflow, status.output_overflow)
    return sum(1 << bit for bit, flag in enumerate(told) if flag)
