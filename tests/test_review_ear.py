"""The review ear on plucked strings of known pitch with heads that say what is true, and the ear's contract.

What the heads should say of an onset is the network's own definition; the pitches are those of ISO 16 (A4 = 440 Hz),
the onsets and lengths those at which the strings are plucked and damped.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import librosa
import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.ear.ahead import DELAY, HEADS, SCENE_HEADS, STRIDE, AheadNetwork, Hindsight
from listener.ear.features import LOWEST, PITCHES, RATE
from listener.ear.frames import LONG_FRAME
from listener.ear.review import ReviewEar
from listener.ear.tracing import Tracer
from listener.events import Block, EarEvent, Final, Gesture, Note, Opened, Watermark
from plucked import STREAM, Sound, placed, string


class Script(AheadNetwork):
    """Heads that say what the test tells them to."""

    def __init__(self, seconds: float) -> None:
        frames = round(seconds * RATE / STRIDE) + 20
        self.said = Hindsight(
            np.zeros((frames, PITCHES, len(HEADS)), np.float32), np.zeros((frames, len(SCENE_HEADS)), np.float32)
        )

    def hear(self, sound: npt.NDArray[np.float32]) -> Hindsight:
        return self.said

    def picked(self, midi: int, at_s: float) -> Script:
        self.onset(midi, at_s)
        return self._point(self.said.pitches[:, midi - LOWEST, HEADS.index("picked")], at_s)

    def onset(self, midi: int, at_s: float) -> Script:
        return self._point(self.said.pitches[:, midi - LOWEST, HEADS.index("onset")], at_s)

    def arrived(self, midi: int, at_s: float) -> Script:
        return self._point(self.said.pitches[:, midi - LOWEST, HEADS.index("arrived")], at_s)

    def dead(self, at_s: float) -> Script:
        return self._point(self.said.scene[:, SCENE_HEADS.index("dead")], at_s)

    def span(self, head: str, midi: int, start_s: float, end_s: float) -> Script:
        first, end = (round(t * RATE / STRIDE) + DELAY for t in (start_s, end_s))
        self.said.pitches[first:end, midi - LOWEST, HEADS.index(head)] = 1.0
        return self

    def note(self, midi: int, start_s: float, end_s: float, picked: bool = True) -> Script:
        (self.picked if picked else self.onset)(midi, start_s)
        return self.span("sounding", midi, start_s, end_s)

    def _point(self, head: npt.NDArray[np.float32], at_s: float) -> Script:
        at = at_s * RATE / STRIDE + DELAY
        frames = np.arange(len(head))
        head[:] = np.maximum(head, np.clip(4 / 3 - np.abs(frames + 0.5 - at) / 1.5, 0, 1))
        return self


def heard(sound: Sound, network: AheadNetwork, cuts: Sequence[int] = (), a4_hz: float = 440.0) -> list[EarEvent]:
    ear = ReviewEar(STREAM, a4_hz, network)
    events: list[EarEvent] = []
    for first, end in pairwise([0, *sorted(cuts), len(sound)]):
        events += ear.push(Block(first, sound[first:end].astype(np.float32)))
    assert not events, "nothing is told before the end is known"
    return ear.finish()


def notes_of(events: Sequence[EarEvent]) -> list[Note]:
    """Every note is told once and is final at once; the watermark passes the end."""
    notes = [event.note for event in events if isinstance(event, Opened)]
    assert [event.id for event in events if isinstance(event, Final)] == [note.id for note in notes]
    assert isinstance(events[-1], Watermark)
    assert [note.onset_sample for note in notes] == sorted(note.onset_sample for note in notes)
    return notes


def cents(note: Note, midi: float) -> float:
    assert note.pitch_midi is not None
    return abs(100.0 * (note.pitch_midi - midi))


@pytest.mark.parametrize("midi", [40, 52, 64, 76, 84])
def test_a_note_lies_where_it_was_plucked_at_its_pitch_and_ends_when_it_ends(midi: int) -> None:
    sound = placed([(0.3, string(midi + 0.12, 0.5))], 1.2)
    (note,) = notes_of(heard(sound, Script(1.2).note(midi, 0.304, 0.8)))
    assert cents(note, midi + 0.12) < 3.0
    assert abs(note.onset_sample / STREAM - 0.3) < 0.003
    assert abs((note.offset_sample or 0) / STREAM - 0.8) < 0.020


def test_strings_at_once_are_voices_of_their_own_at_their_own_pitches() -> None:
    pitches = (52, 59, 68)
    script = Script(1.4)
    for pitch in pitches:
        script.note(pitch, 0.3, 1.0)
    notes = notes_of(heard(placed([(0.3, string(p, 0.7)) for p in pitches], 1.4), script))
    assert {n.voice for n in notes} == {0, 1, 2}
    assert all(cents(n, p) < 8.0 for n, p in zip(sorted(notes, key=lambda n: n.pitch_midi or 0), pitches, strict=True))


def test_a_hammer_on_is_a_second_note_slurred_from_the_first() -> None:
    hammer = string(lambda t: 57 + 2 * np.clip((t - 0.15) / 0.01, 0, 1), 0.5)
    script = Script(1.2).note(57, 0.3, 0.455).note(59, 0.455, 0.8, picked=False)
    first, second = notes_of(heard(placed([(0.3, hammer)], 1.2), script))
    assert (first.gesture, second.gesture) == (Gesture.PICKED, Gesture.SLURRED)
    assert second.slurred_from == first.id
    assert cents(first, 57) < 5.0
    assert cents(second, 59) < 5.0


@pytest.mark.parametrize(("stood", "let_down"), [(0.05, False), (0.05, True), (0.30, False)])
def test_a_bend_is_one_note_with_its_start_unless_that_stood(stood: float, let_down: bool) -> None:
    def bent(t: Sound) -> Sound:
        up = 1 - np.cos(np.pi * np.clip((t - stood) / 0.15, 0, 1))
        return np.asarray(62 + up - (1 - np.cos(np.pi * np.clip((t - 0.45) / 0.15, 0, 1)) if let_down else 0))

    middle = 0.3 + stood + 0.1
    script = Script(1.6).picked(62, 0.3).span("sounding", 62, 0.3, middle)
    script.span("moving", 63, 0.3 + stood, 0.45 + stood).arrived(64, middle)
    script.span("sounding", 64, middle, 0.82 if let_down else 1.3)
    if let_down:
        script.span("moving", 63, 0.75, 0.90).arrived(62, 0.85).span("sounding", 62, 0.83, 1.3)
    notes = notes_of(heard(placed([(0.3, string(bent, 1.0, decay_s=2.0))], 1.6), script))
    bend = notes[0] if stood < 0.12 else notes[1]
    assert len(notes) == 1 + (stood > 0.12) + let_down
    assert bend.gesture is Gesture.BEND
    assert cents(bend, 64) < 10.0
    if stood < 0.12:
        assert abs((bend.from_midi or 0) - 62) < 0.25
    else:
        assert bend.slurred_from == notes[0].id
        assert cents(notes[0], 62) < 10.0
    if let_down:
        assert notes[1].gesture is Gesture.RELEASE
        assert cents(notes[1], 62) < 10.0


def test_a_pitch_that_drifts_into_the_next_semitone_is_still_one_note() -> None:
    curl = string(lambda t: 64 + 0.6 * np.clip((t - 0.35) / 0.15, 0, 1), 0.9, decay_s=2.0)
    script = Script(1.5).picked(64, 0.3).span("sounding", 64, 0.3, 0.77).span("sounding", 65, 0.77, 1.2)
    script.span("moving", 64, 0.65, 0.80).span("moving", 65, 0.75, 0.80)
    (note,) = notes_of(heard(placed([(0.3, curl)], 1.5), script))
    assert note.gesture is Gesture.CURL
    assert abs(note.rise_cents - 60.0) < 8.0
    assert abs((note.offset_sample or 0) / STREAM - 1.2) < 0.03


def test_frets_that_a_slide_passes_are_no_notes() -> None:
    frets = string(lambda t: 55 + np.clip((t - 0.15) / 0.008, 0, 1) + np.clip((t - 0.18) / 0.008, 0, 1), 0.7)
    script = Script(1.3).note(55, 0.3, 0.454).note(56, 0.454, 0.484, picked=False).note(57, 0.484, 1.0, picked=False)
    first, second = notes_of(heard(placed([(0.3, frets)], 1.3), script))
    assert (round(first.pitch_midi or 0), round(second.pitch_midi or 0)) == (55, 57)
    assert second.slurred_from == first.id


def test_a_muted_stroke_is_a_dead_note() -> None:
    at = np.arange(round(0.09 * STREAM)) / STREAM
    thud = 0.4 * np.random.default_rng(3).standard_normal(len(at)) * np.exp(-at / 0.008)
    (note,) = notes_of(heard(placed([(0.3, thud)], 1.0), Script(1.0).dead(0.302)))
    assert note.gesture is Gesture.DEAD
    assert note.pitch_midi is None
    assert abs(note.onset_sample / STREAM - 0.3) < 0.005


def test_the_players_reference_moves_the_pitch() -> None:
    sound = placed([(0.3, string(69, 0.5))], 1.0)
    (note,) = notes_of(heard(sound, Script(1.0).note(70, 0.3, 0.8), a4_hz=415.0))
    # 440 Hz against A4 = 415 Hz is 1200 log2(440 / 415) cents above A4
    assert cents(note, 69 + 12 * np.log2(440 / 415)) < 5.0


LINE = placed([(0.1, string(52, 0.3)), (0.4, string(52, 0.25)), (0.7, string(59, 0.4)), (1.2, string(64, 0.5))], 1.9)
SCRIPT = Script(1.9).note(52, 0.1, 0.4).note(52, 0.4, 0.65).note(59, 0.7, 1.1).note(64, 1.2, 1.7)
LINE_EVENTS = heard(LINE, SCRIPT)


@settings(max_examples=12, deadline=None)
@given(st.lists(st.integers(1, len(LINE) - 1), min_size=1, max_size=60, unique=True))
def test_blocks_of_any_size_give_the_same_events(cuts: list[int]) -> None:
    assert heard(LINE, SCRIPT, cuts) == LINE_EVENTS
    assert len(notes_of(LINE_EVENTS)) == 4


def test_silence_and_a_single_sample_are_no_notes() -> None:
    assert notes_of(heard(np.zeros(STREAM), Script(1.0))) == []
    assert notes_of(heard(np.zeros(1), Script(0.1))) == []


@pytest.mark.parametrize("midi", [40, 45, 52, 57, 64, 70, 76, 81, 86])
def test_contours_agree_with_yin(midi: int) -> None:
    """librosa's yin (de Cheveigné and Kawahara, 2002) on the same string; both within a few cents of physics."""
    sound = librosa.resample(string(midi + 0.3, 0.6, decay_s=1.5), orig_sr=STREAM, target_sr=RATE)
    trace = Tracer(sound).trace(0, len(sound), midi - 2, midi + 3)
    yin = librosa.yin(sound, fmin=70, fmax=1500, sr=RATE, frame_length=2048, hop_length=256)
    ours, theirs = float(np.median(trace.pitch)), float(np.median(librosa.hz_to_midi(yin)))
    assert abs(ours - (midi + 0.3)) < 0.03
    assert abs(ours - theirs) < 0.06
    assert float(np.median(trace.clarity)) > 0.95


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 8000), st.integers(1, 9000))
def test_a_trace_never_leaves_the_recording(first: int, length: int) -> None:
    sound = np.random.default_rng(5).standard_normal(9000)
    trace = Tracer(sound).trace(first, first + length, 50, 60)
    assert len(trace.centre) == max(1, (min(first + length, 9000) - first - LONG_FRAME) // 128 + 1)
    assert np.all((trace.clarity >= 0) & (trace.clarity <= 1))
