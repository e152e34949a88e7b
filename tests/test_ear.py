"""The live ear on sounds whose notes are known from physics: plucked strings at ISO 16 pitches (A4 = 440 Hz)."""

from __future__ import annotations

import copy
import csv
import os
import pickle
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.ear.classical import ClassicalEar
from listener.events import Block, EarEvent, Final, Gesture, Note, Opened, Revised, Watermark, Withdrawn

Sound = npt.NDArray[np.float64]
RATE = 44100
OPEN_STRINGS = (40, 45, 50, 55, 59, 64)  # E2 A2 D3 G3 B3 E4 in MIDI 1.0 note numbers


def hz(midi: float) -> float:
    """Equal temperament of ISO 16: A4 = 440 Hz is MIDI 69."""
    return float(440.0 * 2.0 ** ((midi - 69.0) / 12.0))


def string(pitch: Callable[[Sound], Sound] | float, seconds: float, rate: int = RATE, decay_s: float = 0.8) -> Sound:
    """An ideal string plucked at a fifth of its length: partial k has size sin(k pi / 5) / k^2 and dies faster the
    higher it is. `pitch` is a MIDI number or a contour of them over time; the end is damped within 10 ms."""
    at = np.arange(round(seconds * rate)) / rate
    contour = pitch(at) if callable(pitch) else np.full(len(at), pitch)
    phase = 2 * np.pi * np.cumsum(440.0 * 2.0 ** ((contour - 69.0) / 12.0)) / rate
    sound = np.zeros(len(at))
    for k in range(1, 16):
        if k * hz(float(contour.max())) < 0.45 * rate:
            sound += np.sin(k * np.pi / 5) / k**1.5 * np.exp(-at * (1 + 0.15 * k) / decay_s) * np.sin(k * phase)
    fade = min(len(at), round(0.010 * rate))
    sound[-fade:] *= 0.5 * (1 + np.cos(np.pi * np.arange(fade) / fade))
    return 0.25 * sound


def placed(parts: Sequence[tuple[float, Sound]], seconds: float, rate: int = RATE) -> Sound:
    """Sounds at their onsets in seconds, over a noise floor of -80 dB."""
    out = 1e-4 * np.random.default_rng(1).standard_normal(round(seconds * rate))
    for onset, sound in parts:
        first = round(onset * rate)
        out[first : first + len(sound)] += sound[: len(out) - first]
    return out


def heard(sound: Sound, rate: int = RATE, cuts: Sequence[int] = (), ear: ClassicalEar | None = None) -> list[EarEvent]:
    """All events of a sound that is pushed in blocks cut at `cuts`, or of 1000 samples."""
    ear = ear or ClassicalEar(rate)
    edges = [0, *sorted(cuts), len(sound)] if cuts else [*range(0, len(sound), 1000), len(sound)]
    events: list[EarEvent] = []
    for first, end in pairwise(edges):
        events += ear.push(Block(first, sound[first:end].astype(np.float32)))
    return events + ear.finish()


def notes_of(events: Sequence[EarEvent]) -> list[Note]:
    """The notes as they were left, in the order of their onsets, and that all were made final or withdrawn."""
    last: dict[int, Note] = {}
    closed: set[int] = set()
    for event in events:
        match event:
            case Opened(number, note) | Revised(number, note):
                assert number not in closed
                last[number] = note
            case Final(number):
                closed.add(number)
            case Withdrawn(number):
                del last[number]
            case Watermark():
                pass
    assert set(last) <= closed
    return sorted(last.values(), key=lambda note: note.onset_sample)


def cents(note: Note, midi: float) -> float:
    assert note.pitch_midi is not None
    return abs(100.0 * (note.pitch_midi - midi))


@pytest.mark.parametrize("open_string", OPEN_STRINGS)
@pytest.mark.parametrize("rate", [44100, 48000])
def test_plucked_strings_are_heard_at_iso_16_pitches_where_they_were_plucked(open_string: int, rate: int) -> None:
    pitches = [open_string + fret for fret in (0, 3, 7, 12, 17, 22)]
    sound = placed([(0.2 + 0.4 * i, string(p, 0.36, rate)) for i, p in enumerate(pitches)], 2.8, rate)
    notes = notes_of(heard(sound, rate))
    assert len(notes) == len(pitches)
    for i, (note, pitch) in enumerate(zip(notes, pitches, strict=True)):
        assert cents(note, pitch) < 5.0
        assert abs(note.onset_sample / rate - (0.2 + 0.4 * i)) < 0.010
        assert note.gesture is Gesture.PICKED


@pytest.mark.parametrize("rate", [8000, 22050, 96000, 192000])
def test_any_sample_rate_gives_the_same_note(rate: int) -> None:
    (note,) = notes_of(heard(placed([(0.3, string(57, 0.5, rate))], 1.0, rate), rate))
    assert cents(note, 57) < 5.0
    assert abs(note.onset_sample / rate - 0.3) < 0.010


def test_a_pitch_is_told_within_forty_milliseconds_of_its_onset() -> None:
    for pitch in (40, 52, 64, 76):
        events = heard(placed([(0.3, string(pitch, 0.5))], 1.0))
        told = next(e.told_sample for e in events if isinstance(e, Opened))
        assert 0.010 < told / RATE - 0.3 < 0.040


def test_the_players_reference_moves_the_pitch() -> None:
    sound = placed([(0.3, string(69, 0.5))], 1.0)
    (note,) = notes_of(heard(sound, ear=ClassicalEar(RATE, a4_hz=415.0)))
    # 440 Hz against A4 = 415 Hz is 1200 log2(440 / 415) cents above A4
    assert cents(note, 69 + 12 * np.log2(440 / 415)) < 5.0


LINE = placed(
    [
        (0.1, string(52, 0.3)),
        (0.4, string(52, 0.25)),
        (0.7, string(lambda t: 59 + 2 * np.clip((t - 0.15) / 0.01, 0, 1), 0.4)),
        (1.2, string(64, 0.5)),
    ],
    1.8,
)


@settings(max_examples=8, deadline=None)
@given(st.lists(st.integers(1, len(LINE) - 1), min_size=1, max_size=60, unique=True))
def test_blocks_of_any_size_give_the_same_events(cuts: list[int]) -> None:
    assert heard(LINE, cuts=cuts) == LINE_EVENTS


LINE_EVENTS = heard(LINE)


@pytest.mark.parametrize("keep", [copy.deepcopy, lambda ear: pickle.loads(pickle.dumps(ear))])
def test_a_copied_ear_goes_on_the_same(keep: Callable[[ClassicalEar], ClassicalEar]) -> None:
    ear = ClassicalEar(RATE)
    half = 37_001  # in the middle of a note and of a hop
    events = ear.push(Block(0, LINE[:half].astype(np.float32)))
    ear = keep(ear)
    events += ear.push(Block(half, LINE[half:].astype(np.float32)))
    assert events + ear.finish() == LINE_EVENTS


def test_the_same_note_picked_again_is_two_notes() -> None:
    picks = [(0.2 + 0.12 * i, string(55, 0.115)) for i in range(8)]
    assert len(notes_of(heard(placed(picks, 1.5)))) == 8


def test_a_hammer_on_is_two_notes_the_second_slurred() -> None:
    hammer = string(lambda t: 57 + 2 * np.clip((t - 0.15) / 0.01, 0, 1), 0.5)
    first, second = notes_of(heard(placed([(0.3, hammer)], 1.2)))
    assert (first.gesture, second.gesture) == (Gesture.PICKED, Gesture.SLURRED)
    assert second.slurred_from == first.id
    assert cents(first, 57) < 5.0
    assert cents(second, 59) < 5.0
    assert abs(second.onset_sample / RATE - 0.455) < 0.015


def test_a_quick_bend_is_one_note_that_knows_its_start() -> None:
    bend = string(lambda t: 62 + 1 - np.cos(np.pi * np.clip((t - 0.05) / 0.15, 0, 1)), 0.7)
    (note,) = notes_of(heard(placed([(0.3, bend)], 1.3)))
    assert note.gesture is Gesture.BEND
    assert cents(note, 64) < 10.0
    assert note.from_midi is not None
    assert abs(note.from_midi - 62) < 0.3


def test_a_bend_from_a_note_that_stood_is_a_second_note_and_its_release_a_third() -> None:
    def contour(t: Sound) -> Sound:
        up, down = (np.clip((t - start) / 0.12, 0, 1) for start in (0.3, 0.8))
        return np.asarray(62 + (1 - np.cos(np.pi * up)) - (1 - np.cos(np.pi * down)))

    notes = notes_of(heard(placed([(0.3, string(contour, 1.4, decay_s=2.0))], 2.0)))
    assert [note.gesture for note in notes] == [Gesture.PICKED, Gesture.BEND, Gesture.RELEASE]
    assert [note.slurred_from for note in notes] == [None, notes[0].id, notes[1].id]
    assert all(cents(note, pitch) < 10.0 for note, pitch in zip(notes, (62, 64, 62), strict=True))


def test_vibrato_is_one_note_and_no_curl() -> None:
    def contour(t: Sound) -> Sound:  # a guitar's vibrato only rises: 0 to 40 cents, 5.5 times a second
        return np.asarray(64 + 0.2 * (1 - np.cos(2 * np.pi * 5.5 * np.maximum(0, t - 0.1))))

    (note,) = notes_of(heard(placed([(0.3, string(contour, 0.9, decay_s=2.0))], 1.5)))
    assert note.gesture is Gesture.VIBRATO
    assert cents(note, 64) < 35.0


def test_a_curl_is_named_and_measured() -> None:
    curl = string(lambda t: 60 + 0.45 * np.clip((t - 0.12) / 0.25, 0, 1), 0.7, decay_s=2.0)
    (note,) = notes_of(heard(placed([(0.3, curl)], 1.3)))
    assert note.gesture is Gesture.CURL
    assert abs(note.rise_cents - 45.0) < 8.0


def test_a_slide_over_frets_tells_start_and_arrival() -> None:
    slide = string(lambda t: 57 + np.clip(np.floor((t - 0.2) / 0.03) + 1, 0, 4), 0.9, decay_s=2.0)
    notes = notes_of(heard(placed([(0.3, slide)], 1.5)))
    assert cents(notes[0], 57) < 5.0
    assert cents(notes[-1], 61) < 5.0
    assert all(note.slurred_from is not None for note in notes[1:])


def test_a_muted_stroke_is_a_dead_note() -> None:
    at = np.arange(round(0.09 * RATE)) / RATE
    thud = 0.4 * np.random.default_rng(3).standard_normal(len(at)) * np.exp(-at / 0.008)
    (note,) = notes_of(heard(placed([(0.3, thud)], 1.0)))
    assert note.gesture is Gesture.DEAD
    assert note.pitch_midi is None
    assert abs(note.onset_sample / RATE - 0.3) < 0.010


@pytest.mark.parametrize("name", ["zeros", "noise", "hum"])
def test_what_is_no_playing_gives_nothing(name: str) -> None:
    at = np.arange(3 * RATE) / RATE
    sound = {
        "zeros": np.zeros(len(at)),
        "noise": 0.003 * np.random.default_rng(5).standard_normal(len(at)),
        "hum": sum((0.004 / h * np.sin(2 * np.pi * 50 * h * at) for h in (1, 2, 3, 5)), np.zeros(len(at))),
    }[name]
    assert notes_of(heard(sound)) == []


def test_a_note_under_a_string_that_rings_on_keeps_its_own_pitch() -> None:
    # A3 rings on under C♯4, a major third: their common sub-period would be an A1 or C♯2 that nobody played
    sound = placed([(0.2, string(57, 0.9, decay_s=2.0)), (0.6, string(61, 0.5, decay_s=2.0))], 1.5)
    notes = notes_of(heard(sound))
    assert [round(note.pitch_midi or 0) for note in notes][:2] == [57, 61]
    assert abs(notes[1].onset_sample / RATE - 0.6) < 0.010


def test_a_note_that_touches_lost_frames_says_so() -> None:
    sound = placed([(0.2, string(57, 0.3)), (0.7, string(60, 0.3)), (1.2, string(62, 0.3))], 1.8)
    first, end = round(0.75 * RATE), round(0.80 * RATE)
    sound[first:end] = 0.0
    ear = ClassicalEar(RATE)
    events = ear.push(Block(0, sound[:first].astype(np.float32)))
    events += ear.push(Block(first, sound[first:].astype(np.float32), gap=end - first)) + ear.finish()
    marks = {round(n.pitch_midi or 0): n.touches_gap for n in notes_of(events)}
    assert marks[57] is False
    assert marks[60] is True
    assert marks[62] is False


def test_the_watermark_never_falls_and_nothing_begins_before_it() -> None:
    mark = -1
    for event in LINE_EVENTS:
        if isinstance(event, Watermark):
            assert event.sample > mark
            mark = event.sample
        elif isinstance(event, Opened | Revised):
            assert event.note.onset_sample >= mark
    assert mark > len(LINE)


def test_a_block_out_of_place_is_refused() -> None:
    ear = ClassicalEar(RATE)
    ear.push(Block(0, np.zeros(100, np.float32)))
    with pytest.raises(ValueError, match="begins at sample 90, expected 100"):
        ear.push(Block(90, np.zeros(100, np.float32)))


@pytest.mark.slow
def test_pitches_agree_with_librosas_pyin() -> None:
    """The outside reference is librosa.pyin (Mauch and Dixon's probabilistic YIN)."""
    librosa = pytest.importorskip("librosa")
    apart = []
    for pitch in (43.1, 50.0, 57.2, 64.05, 69.0, 76.1):
        sound = placed([(0.2, string(pitch, 0.6, 22050))], 1.0, 22050)
        f0, voiced, _ = librosa.pyin(sound, fmin=70, fmax=1500, sr=22050, resolution=0.05)
        reference = float(np.median(69 + 12 * np.log2(f0[voiced] / 440.0)))
        (note,) = notes_of(heard(sound, 22050))
        apart.append(cents(note, reference))
    assert np.median(apart) < 3.0


DATA = os.environ.get("BLUETHIRD_DATA")


@pytest.mark.skipif(not DATA, reason="BLUETHIRD_DATA is not set: no recordings of single notes")
def test_single_notes_of_a_real_guitar_have_their_measured_pitch() -> None:
    """`measured_midi` of the folder's notes.csv was measured by its makers' own means."""
    import soundfile as sf

    folder = Path(DATA or "") / "strat_notes"
    with (folder / "notes.csv").open(newline="") as rows:
        table = list(csv.DictReader(rows))[::6]
    assert len(table) > 15
    apart = []
    for row in table:
        sound, rate = sf.read(folder / row["file"])
        sound = np.concatenate([np.zeros(rate // 5), sound[: int(0.6 * rate)]])
        notes = notes_of(heard(sound, rate))
        assert notes, row["file"]
        longest = max(notes, key=lambda n: (n.offset_sample or 0) - n.onset_sample)
        apart.append(cents(longest, float(row["measured_midi"])))
    assert np.median(apart) < 3.0
    assert np.percentile(apart, 95) < 10.0
