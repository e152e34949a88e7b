"""The check before the first count-in. Pitches: equal temperament from A4 = 440 Hz (ISO 16), E2 at 82.407 Hz."""

from __future__ import annotations

import csv
import os
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from conftest import SoundCard
from listener.events import Block, Samples
from listener.room import portaudio
from listener.room.devices import choose_rig, list_devices
from listener.room.inputs import inputs_with_signal
from listener.room.leak import LeakCheck, check_click, heard_click
from listener.room.opening import open_rig
from listener.room.soundcheck import Findings, SoundCheck, pitch_of
from listener.sources.files import FileSource

RATE = 48000
E2_HZ = 82.407
DATA = os.environ.get("BLUETHIRD_DATA")


def string(hz: float, seconds: float = 2.0, level: float = 0.3, rate: int = RATE) -> Samples:
    """A plucked string: partials of a pluck at a fifth of its length, the higher ones dying away sooner."""
    time_s = np.arange(round(seconds * rate)) / rate
    partials = [
        np.sin(np.pi * n / 5) / n**2 * np.sin(2 * np.pi * n * hz * time_s) * np.exp(-time_s * (0.8 + 0.5 * n))
        for n in range(1, 20)
    ]
    sound = np.sum(partials, axis=0)
    return (level * sound / np.abs(sound).max()).astype(np.float32)


def checked(samples: Samples, rate: int = RATE, a4_hz: float = 440.0, block: int = 700) -> Findings:
    check = SoundCheck(rate, a4_hz)
    for start in range(0, len(samples), block):
        check.push(Block(start, samples[start : start + block]))
    return check.findings()


@pytest.mark.parametrize("cents", [-30.0, 0.0, 12.0])
@pytest.mark.parametrize("a4_hz", [440.0, 415.0])
def test_the_low_e_is_told_in_cents_from_the_players_reference(cents: float, a4_hz: float) -> None:
    heard = checked(string(E2_HZ * a4_hz / 440.0 * 2 ** (cents / 1200)), a4_hz=a4_hz).low_string
    assert heard is not None
    assert heard.is_low_e
    assert heard.cents == pytest.approx(cents, abs=1.0)
    assert not heard.may_be_tuned_off


def test_a_string_a_semitone_off_is_a_question_and_another_string_is_none() -> None:
    down = checked(string(E2_HZ * 2 ** (-1.2 / 12))).low_string
    assert down is not None
    assert (down.semitones, down.may_be_tuned_off) == (-1, True)
    assert down.cents == pytest.approx(-20.0, abs=1.0)
    other = checked(string(110.0)).low_string
    assert other is not None
    assert (other.semitones, other.may_be_tuned_off) == (5, False)
    between = checked(string(E2_HZ * 2 ** (-1.45 / 12))).low_string
    assert between is not None
    assert not between.may_be_tuned_off


def test_levels_and_silence_are_told() -> None:
    rng = np.random.default_rng(2)
    noise = (0.001 * rng.standard_normal(2 * RATE)).astype(np.float32)
    found = checked(np.concatenate([noise, string(E2_HZ, level=0.5), np.zeros(5 * RATE, np.float32)]))
    assert found.peak_db == pytest.approx(-6.0, abs=0.1)
    assert found.hears_nothing
    assert found.all_zero_s == pytest.approx(5.0, abs=0.1)
    found = checked(noise)
    assert found.noise_db == pytest.approx(-60.0, abs=1.0)
    assert (found.low_string, found.hears_nothing) == (None, False)
    assert checked(noise * 0.05).hears_nothing is False  # under -66 dBFS, but for two seconds only
    hiss = checked(np.tile(noise, 3) * np.float32(0.05))
    assert hiss.hears_nothing
    assert hiss.all_zero_s == 0.0


@settings(max_examples=20, deadline=None)
@given(block=st.integers(1, 9000))
def test_the_findings_do_not_depend_on_the_blocks(block: int) -> None:
    samples = string(E2_HZ, seconds=0.6)
    assert checked(samples, block=block) == checked(samples)


def test_noise_and_hum_between_strings_have_no_pitch() -> None:
    rng = np.random.default_rng(3)
    assert pitch_of(rng.standard_normal(9600).astype(np.float32), RATE) is None
    assert pitch_of(np.zeros(9600, np.float32), RATE) is None
    assert pitch_of(np.zeros(100, np.float32), RATE) is None


@pytest.mark.skipif(DATA is None, reason="BLUETHIRD_DATA is not set: no recordings of a real low E string")
def test_real_strings_are_measured_within_ten_cents_of_the_annotation() -> None:
    folder = Path(str(DATA)) / "strat_notes"
    with (folder / "notes.csv").open(encoding="utf-8") as file:
        notes = [note for note in csv.DictReader(file) if int(note["midi"]) <= 62]
    assert len(notes) > 30
    off = []
    for note in notes:
        source = FileSource(folder / note["file"])
        check = SoundCheck(source.rate)
        for block in source.blocks():
            check.push(block)
        heard = check.findings().low_string
        if heard is not None:
            off.append(100 * (40 + heard.semitones - float(note["measured_midi"])) + heard.cents)
    assert len(off) >= 0.9 * len(notes)
    assert np.mean(np.abs(off) < 10.0) >= 0.9


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
def test_a_leaking_loudspeaker_is_told_by_one_click_and_a_closed_one_is_not(rate: int) -> None:
    rng = np.random.default_rng(4)
    seconds = np.arange(rate) / rate
    click, due, late = check_click(rate), rate // 2, round(0.012 * rate)
    # hum, hiss and a guitar that is being touched
    quiet = 0.003 * rng.standard_normal(rate) + 0.05 * np.sin(2 * np.pi * 50 * seconds)
    quiet = (quiet + 0.02 * string(196.0, 1.0, rate=rate)).astype(np.float32)
    assert heard_click(quiet, due, rate) is None
    assert heard_click(np.zeros(rate, np.float32), due, rate) is None
    # a small room: the direct sound at -20 dB, then reflections that die away in 0.2 s, in sum a little louder
    room = rng.standard_normal(rate // 5) * np.exp(-np.arange(rate // 5) / (0.03 * rate)) / np.sqrt(rate)
    room[0] = 0.1
    leaking = quiet.copy()
    echo = np.convolve(click, room)
    leaking[due + late : due + late + len(echo)] += echo.astype(np.float32)[: rate - due - late]
    found = heard_click(leaking, due, rate)
    assert found is not None
    assert found.late_samples == pytest.approx(late, abs=0.001 * rate)
    assert found.level_db == pytest.approx(-20.0, abs=3.0)


@pytest.mark.skipif(DATA is None, reason="BLUETHIRD_DATA is not set: no recordings of real pick attacks")
def test_no_pick_attack_is_taken_for_the_click() -> None:
    paths = sorted((Path(str(DATA)) / "electric_lines").glob("*.flac"))
    assert len(paths) > 15
    for path in paths:
        source = FileSource(path)
        samples = np.concatenate([block.samples for block in source.blocks()])
        for start in range(0, len(samples) - source.rate, source.rate // 2):
            assert heard_click(samples[start : start + source.rate], source.rate // 2, source.rate) is None


@pytest.mark.sound
@pytest.mark.parametrize("joined", [True, False])
def test_the_click_is_heard_through_the_card_where_output_and_input_are_joined(
    sound_card: SoundCard, joined: bool
) -> None:
    sound_card.act("loop", 20 if joined else "off")
    portaudio.refresh()
    duplex, source = open_rig(choose_rig(list_devices(), sound_card.device))
    assert duplex.player is not None
    check = LeakCheck(source.captured_sample + RATE, duplex.rate)
    duplex.player.play(check.render, quiet_start=False)
    while not check.is_over:
        for block in source.read_available():
            check.push(block)
        duplex.player.pump()
        duplex.check()
        time.sleep(0.02)
    assert duplex.close()
    leak = check.leak()
    assert (leak is not None) is joined
    if leak is not None:
        assert leak.late_samples == pytest.approx(0.020 * RATE, abs=2)
        assert leak.level_db == pytest.approx(0.0, abs=0.5)


@pytest.mark.sound
def test_inputs_that_carry_signal_are_named(sound_card: SoundCard, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "e.wav", np.tile(string(E2_HZ), 4), RATE)
    portaudio.refresh()
    devices = [device for device in list_devices() if device.name == sound_card.device]
    assert inputs_with_signal(devices) == []
    player = sound_card.playing(tmp_path / "e.wav")
    try:
        for _ in range(5):  # the player needs a moment to reach the cable
            if heard := inputs_with_signal(devices):
                break
    finally:
        player.terminate()
        player.wait(timeout=5)
    assert [found.device.name for found in heard] == [sound_card.device]
    assert heard[0].peak_db > -20.0
    assert inputs_with_signal(devices, besides=devices[0]) == []
