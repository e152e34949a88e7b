"""Devices, the stream and its faults: the pure parts with invented rows, the rest through the virtual sound card."""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from conftest import SoundCard
from listener.errors import DeviceError, NoDeviceError
from listener.events import Block, Samples
from listener.room import portaudio
from listener.room.devices import Device, Rig, Way, choose, choose_rig, list_devices, read_list
from listener.room.duplex import Duplex, Latency, LatencySource, LiveSource, Pulse
from listener.room.intake import Intake, driver_round_trip
from listener.room.opening import open_rig, rates_to_try
from listener.room.player import CEILING, KNEE, Player, limited
from listener.room.rings import CaptureRing, PlayRing

RATE = 48000
DEVICES = (
    Device(0, "Built-in Audio", "ALSA", 2, 2, 48000, default_input=True, default_output=True),
    Device(1, "Guitar Interface USB", "ALSA", 4, 2, 44100),
    Device(2, "Guitar Interface USB 2", "ALSA", 2, 2, 48000),
    Device(3, "HDMI 3 (hw:1,7)", "ALSA", 0, 8, 48000),
    Device(4, "Microphone", "JACK Audio Connection Kit", 1, 0, 48000),
    Device(5, "Monitor", "JACK Audio Connection Kit", 0, 2, 48000),
)


@pytest.mark.parametrize(
    ("wanted", "way", "index", "channel"),
    [
        (None, Way.INPUT, 0, None),
        ("1", Way.INPUT, 1, None),
        ("1:3", Way.INPUT, 1, 3),
        ("guitar interface usb", Way.INPUT, 1, None),
        ("interface 2", Way.INPUT, 2, None),
        ("micro:1", Way.INPUT, 4, 1),
        ("hw:1", Way.OUTPUT, 3, None),
        ("jack", Way.OUTPUT, 5, None),
    ],
)
def test_a_device_is_meant_by_number_or_words_with_its_channel(
    wanted: str | None, way: Way, index: int, channel: int | None
) -> None:
    device, meant_channel = choose(DEVICES, wanted, way)
    assert (device.index, meant_channel) == (index, channel)


def test_a_name_that_fits_several_or_none_lists_what_there_is() -> None:
    with pytest.raises(DeviceError, match=r"2 inputs fit 'guitar'.*1 Guitar Interface USB, ALSA; 2 Guitar"):
        choose(DEVICES, "guitar", Way.INPUT)
    with pytest.raises(DeviceError, match=r"no input fits 'hdmi'.*there are: 0 Built-in Audio"):
        choose(DEVICES, "hdmi", Way.INPUT)
    with pytest.raises(DeviceError, match="no input fits '99'"):
        choose(DEVICES, "99", Way.INPUT)
    with pytest.raises(NoDeviceError, match="no sound input on this machine"):
        choose(DEVICES[3:4], None, Way.INPUT)


def test_the_output_is_one_that_can_share_the_inputs_stream() -> None:
    assert choose_rig(DEVICES) == Rig(DEVICES[0], 1, DEVICES[0])
    assert choose_rig(DEVICES, "1:2") == Rig(DEVICES[1], 2, DEVICES[1])
    assert choose_rig(DEVICES, "1:2", channel=4).channel == 4
    assert choose_rig(DEVICES, "microphone").output == DEVICES[5]
    assert choose_rig(DEVICES[4:5]).output is None
    assert choose_rig(DEVICES, "interface 2", "hdmi").output == DEVICES[3]
    with pytest.raises(DeviceError, match="no channel 3: it has 2"):
        choose_rig(DEVICES, "0:3")
    with pytest.raises(DeviceError, match="choose two of the same host API"):
        choose_rig(DEVICES, "microphone", "hdmi")


def test_portaudios_own_tables_are_read() -> None:
    raw = {"hostapi": 0, "max_input_channels": 2, "max_output_channels": 0, "default_samplerate": 44100.0}
    (device,) = read_list([{"name": "line", **raw}], [{"name": "ALSA"}], (0, -1))
    assert device == Device(0, "line", "ALSA", 2, 0, 44100, default_input=True)
    assert rates_to_try(Rig(device, 1, DEVICES[0]), None) == (44100, 48000)
    assert rates_to_try(Rig(device, 1, None), 96000) == (96000,)


@pytest.mark.parametrize(
    ("code", "sentence"),
    [  # names of the codes: portaudio.h, PaErrorCode
        (-9997, "does not run at the rate"),
        (-9998, "does not have that many channels"),
        (-9985, "another program may hold it"),
        (-9993, "of the same host API"),
        (-9999, "cannot be opened: unanticipated host error"),
    ],
)
def test_each_error_of_portaudio_is_one_sentence(code: int, sentence: str) -> None:
    error = portaudio.device_error("the device line", Exception("Error opening Stream: Unanticipated host error", code))
    assert sentence in str(error)
    assert str(error).startswith("the device line ")


def test_without_the_library_the_error_says_how_to_install_it(tmp_path: Path) -> None:
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')\n")
    program = (
        "from listener.errors import NoDeviceError\n"
        "from listener.room.devices import list_devices\n"
        "try:\n    list_devices()\nexcept NoDeviceError as error:\n    print(error)\n"
    )
    search = os.pathsep.join([str(tmp_path), *filter(None, [os.environ.get("PYTHONPATH")])])
    environment = {**os.environ, "PYTHONPATH": search}
    done = subprocess.run([sys.executable, "-c", program], env=environment, capture_output=True, text=True, check=True)
    assert done.stdout.startswith("the PortAudio library is missing")
    assert sys.platform != "linux" or "sudo apt-get install libportaudio2" in done.stdout


def captured(lengths: list[int], lost_before: dict[int, int], late_s: dict[int, float] | None = None) -> CaptureRing:
    """A ring into which blocks of a counting signal came; block i after `lost_before[i]` frames that never came."""
    ring, time_in_frames, count = CaptureRing(RATE), 0, 0
    for number, frames in enumerate(lengths):
        time_in_frames += lost_before.get(number, 0)
        adc_s = 100.0 + time_in_frames / RATE + (late_s or {}).get(number, 0.0)
        samples = np.arange(count, count + frames, dtype=np.float32)
        ring.put(samples, adc_s, adc_s + 0.15, 0)
        time_in_frames += frames
        count += frames
    return ring


def joined(blocks: list[Block], first: int = 0) -> Samples:
    place = first
    for block in blocks:
        assert block.start_sample == place
        assert not block.samples[: block.gap].any()
        place += len(block.samples)
    return np.concatenate([block.samples for block in blocks])


def test_lost_frames_become_silence_and_later_samples_keep_their_place() -> None:
    intake = Intake(captured([256] * 40, {20: 3000, 30: 640}), RATE)
    samples = joined(intake.read(at_end=True))
    assert len(samples) == 40 * 256 + 3640
    assert not samples[20 * 256 : 20 * 256 + 3000].any()
    assert samples[20 * 256 + 3000] == 20 * 256
    assert samples[30 * 256 + 3640] == 30 * 256
    assert (intake.lost, intake.output_lost) == (3640, 3640)


def test_a_single_late_stamp_and_small_jitter_are_no_gap() -> None:
    late = {number: 0.002 * (number % 3 - 1) for number in range(60)} | {30: 0.02, 45: 0.009, 46: 0.006}
    intake = Intake(captured([256] * 60, {}, late), RATE)
    assert np.array_equal(joined(intake.read(at_end=True)), np.arange(60 * 256))
    assert intake.lost == 0


def test_stamps_that_say_nothing_make_no_gap_and_no_latency() -> None:
    ring = CaptureRing(RATE)
    for _ in range(50):
        ring.put(np.ones(256, np.float32), 0.0, 0.0, 0)
    intake = Intake(ring, RATE)
    assert len(joined(intake.read())) == 50 * 256
    assert driver_round_trip(ring, RATE) is None
    assert driver_round_trip(captured([256] * 10, {}), RATE) == round(0.15 * RATE)


@given(
    lengths=st.lists(st.integers(1, 2000), min_size=20, max_size=60),
    lost=st.dictionaries(st.integers(12, 19), st.integers(400, 5000), max_size=2),
    reads=st.lists(st.integers(1, 7), min_size=1, max_size=30),
)
def test_when_it_is_read_changes_nothing(lengths: list[int], lost: dict[int, int], reads: list[int]) -> None:
    whole = joined(Intake(captured(lengths, lost), RATE).read(at_end=True))
    ring, blocks, source = CaptureRing(RATE), [], captured(lengths, lost)
    intake = Intake(ring, RATE, latency_samples=77)
    pause = itertools.cycle(reads)
    wait = next(pause)
    for number in range(len(lengths)):
        row = source.row(number)
        assert row is not None
        samples = source.copy(row.start, row.frames)
        assert samples is not None
        ring.put(samples, row.adc_s, row.dac_s, row.flags)
        wait -= 1
        if wait == 0:
            blocks += intake.read()
            wait = next(pause)
    blocks += intake.read(at_end=True)
    assert np.array_equal(joined(blocks, first=-77), whole)
    assert intake.captured_sample == len(whole) - 77


def test_a_reader_that_slept_for_longer_than_the_ring_finds_the_clock_right() -> None:
    intake = Intake(captured([4096] * 400, {}), RATE)
    samples = joined(intake.read(at_end=True))
    assert len(samples) == 400 * 4096
    assert samples[-1] == 400 * 4096 - 1
    assert intake.lost == 0


def test_a_machine_that_slept_for_an_hour_is_told_and_no_hour_of_silence_is_handed_out() -> None:
    intake = Intake(captured([256] * 40, {20: 3600 * RATE}), RATE)
    assert len(joined(intake.read(at_end=True))) == 20 * 256
    assert intake.slept_s == pytest.approx(3600, abs=1)
    assert intake.read(at_end=True) == []


def played(ring: PlayRing, blocks: list[int]) -> Samples:
    parts = []
    for frames in blocks:
        out = np.full((frames, 2), 9.0, np.float32)
        ring.take(out)
        assert np.array_equal(out[:, 0], out[:, 1])
        parts.append(out[:, 0])
    return np.concatenate(parts)


def test_the_band_is_played_at_its_own_index_and_moves_on_after_a_gap() -> None:
    ring = PlayRing(RATE, ahead_s=0.4)
    player = Player(ring, RATE, ahead_s=0.4)
    player.play(lambda start, frames: np.arange(start, start + frames, dtype=np.float32) * 1e-7)
    played(ring, [256] * 600)  # past the quiet start, filled once: the rest is silence
    assert player.starved == 600 * 256 - round(0.4 * RATE)
    player.pump()
    assert played(ring, [256])[0] == pytest.approx(600 * 256 * 1e-7)
    player.follow_gaps(1000)
    player.pump()
    assert played(ring, [256])[0] == pytest.approx((601 * 256 + 1000) * 1e-7)


def test_what_is_played_starts_quiet_and_changes_without_a_step() -> None:
    ring = PlayRing(RATE, ahead_s=0.4)
    player = Player(ring, RATE, ahead_s=0.4)

    def tone(start: int, frames: int) -> Samples:
        return (0.4 * np.sin(2 * np.pi * 200 * (start + np.arange(frames)) / RATE)).astype(np.float32)

    player.play(tone)
    heard = []
    for step in range(1000):
        if step == 900:
            player.play(None)
        player.pump()
        heard.append(played(ring, [256]))
    samples = np.concatenate(heard)
    assert np.abs(samples[: RATE // 2]).max() < 0.4 * 10 ** (-16 / 20)
    assert np.abs(samples[4 * RATE : 4 * RATE + 4800]).max() == pytest.approx(0.4, rel=0.01)
    assert np.abs(np.diff(samples)).max() < 1.1 * 0.4 * 2 * np.pi * 200 / RATE
    assert not samples[-10000:].any()


@given(st.lists(st.floats(-100, 100, width=32), min_size=1, max_size=50))
def test_no_output_exceeds_the_ceiling_and_quiet_output_is_untouched(values: list[float]) -> None:
    samples = np.array(values, np.float32)
    bent = limited(samples)
    assert np.abs(bent).max() <= CEILING + 1e-6
    quiet = np.abs(samples) <= KNEE
    assert np.array_equal(bent[quiet], samples[quiet])
    assert np.array_equal(np.sign(bent), np.sign(samples))


def test_a_stream_that_stands_still_is_told_from_a_program_that_was_stopped() -> None:
    pulse = Pulse(0.0)
    assert not pulse.stands_still(1, 0.25)
    assert [pulse.stands_still(1, 0.25 * look) for look in range(2, 7)] == [False, False, False, False, True]
    woken = Pulse(0.0)
    assert not woken.stands_still(1, 0.25)
    assert not woken.stands_still(1, 3600.0)
    assert not woken.stands_still(2, 3600.1)


def test_the_latency_is_the_drivers_the_measured_or_the_one_given() -> None:
    assert Latency().samples(4800, RATE) == (4800, LatencySource.DRIVER)
    assert Latency(beyond_driver=96).samples(4800, RATE) == (4896, LatencySource.MEASURED)
    assert Latency(beyond_driver=96, given_s=0.02).samples(4800, RATE) == (960, LatencySource.GIVEN)
    assert Latency(beyond_driver=96).samples(None, RATE) == (0, LatencySource.UNKNOWN)


def opened(card: SoundCard, **how: float) -> tuple[Duplex, LiveSource]:
    portaudio.refresh()
    return open_rig(choose_rig(list_devices(), card.device), **how)  # type: ignore[arg-type]


def run(duplex: Duplex, source: LiveSource, seconds: float) -> list[Block]:
    """What the stream hears in so many seconds of its own time."""
    blocks: list[Block] = []
    end = source.captured_sample + round(seconds * duplex.rate)
    while source.captured_sample < end:
        blocks += source.read_available()
        duplex.check()
        if duplex.player is not None:
            duplex.player.pump()
        time.sleep(0.01)
    return blocks + source.read_available()


def look_for(duplex: Duplex, seconds: float) -> None:
    """Look after the stream for so long, as a sitting does."""
    for _ in range(round(seconds / 0.25)):
        time.sleep(0.25)
        duplex.check()


@pytest.mark.sound
def test_a_known_delay_in_the_loop_is_found_to_the_frame(sound_card: SoundCard) -> None:
    sound_card.act("loop", 50)
    starts = [RATE // 2 + 9600 * number for number in range(9)]
    bursts = 0.3 * np.random.default_rng(5).standard_normal((len(starts), 480)).astype(np.float32)

    def render(start: int, frames: int) -> Samples:
        whole = np.zeros(frames + 960, np.float32)
        for at, burst in zip(starts, bursts, strict=True):
            if start - 480 < at < start + frames:
                whole[at - start + 480 : at - start + 960] = burst
        return whole[480:-480]

    duplex, source = opened(sound_card)
    assert duplex.player is not None
    duplex.player.play(render)
    blocks = run(duplex, source, 3.0)
    assert duplex.close()
    assert source.latency_source is LatencySource.DRIVER
    heard, first = np.concatenate([block.samples for block in blocks]), blocks[0].start_sample
    delays = []
    for at, burst in zip(starts, bursts, strict=True):
        window = heard[at - first : at - first + 6000]
        delays.append(int(np.argmax(np.abs(np.correlate(window, burst, "valid")))))
    # by construction 50 ms; the driver's figure followed the true round trip within 2 frames when it was measured
    assert np.median(delays) == pytest.approx(0.050 * RATE, abs=2), delays


@pytest.mark.sound
def test_a_file_played_into_the_card_arrives_sample_by_sample(sound_card: SoundCard, tmp_path: Path) -> None:
    sound_card.act("up", RATE, 1024)
    rng = np.random.default_rng(11)
    sent = (0.25 * rng.standard_normal(RATE)).astype(np.float32)
    silence = np.zeros(4096, np.float32)  # the player drops what does not fill a block
    soundfile.write(tmp_path / "sent.wav", np.concatenate([sent, silence]), RATE, subtype="FLOAT")
    tries = []
    for _ in range(3):  # a busy machine may make the virtual server itself miss a turn
        duplex, source = opened(sound_card)
        player = sound_card.playing(tmp_path / "sent.wav")
        blocks = run(duplex, source, 2.5)
        assert duplex.close()
        assert player.wait(timeout=10) == 0
        heard = np.concatenate([block.samples for block in blocks])
        found = int(np.argmax(np.abs(np.correlate(heard, sent[:2048], "valid"))))
        wrong = int(np.count_nonzero(np.abs(heard[found : found + RATE] - sent) > 1e-6))
        tries.append((source.lost, wrong))
        if tries[-1] == (0, 0):
            return
    pytest.fail(f"frames lost and samples wrong in each try: {tries}")


@pytest.mark.sound
@pytest.mark.parametrize("fault", ["kill", "freeze"])
def test_a_server_that_dies_or_freezes_is_told_and_closing_returns(sound_card: SoundCard, fault: str) -> None:
    duplex, source = opened(sound_card)
    try:
        run(duplex, source, 0.3)
        sound_card.act(fault)
        with pytest.raises(DeviceError, match="the device test_card went away"):
            look_for(duplex, 2.0)
        source.read_available()
        assert duplex.close()
    finally:
        if fault == "freeze":
            sound_card.act("thaw")


@pytest.mark.sound
def test_a_pulled_cable_is_exact_silence_and_a_wrong_rate_is_a_sentence(sound_card: SoundCard) -> None:
    sound_card.act("cable", "out")
    duplex, source = opened(sound_card)
    blocks = run(duplex, source, 0.3)
    assert duplex.close()
    assert not np.concatenate([block.samples for block in blocks]).any()
    with pytest.raises(DeviceError, match="does not run at the rate"):
        opened(sound_card, rate=44100)
