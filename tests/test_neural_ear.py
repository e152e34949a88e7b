"""The neural ear's decoder on plucked strings of known pitch with heads that say what is true, and the ear's contract.

What the heads should say of an onset, and how late, is the network's own definition; the pitches are those of ISO 16
(A4 = 440 Hz), the onsets and lengths those at which the strings are plucked and damped.
"""

from __future__ import annotations

import copy
import pickle
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.ear.features import BANDS, HOP, LOWEST, PITCHES, RATE, pitch_index
from listener.ear.network import (
    BACK,
    BANDS_BACK,
    HEADS,
    NEIGHBOURS,
    ONSET_DELAYS,
    SCENE_HEADS,
    SOUNDING_DELAY,
    Heard,
    Network,
)
from listener.ear.neural import NeuralEar
from listener.events import Block, EarEvent, Final, Gesture, Note, Opened, Revised, Watermark, Withdrawn
from plucked import STREAM, Sound, placed, string


class Script(Network):
    """Heads that say what the test tells them to, hop by hop."""

    def __init__(self, seconds: float) -> None:
        frames = round(seconds * RATE / HOP) + 20
        self.pitches = np.zeros((frames, PITCHES, len(HEADS)), np.float32)
        self.scene = np.zeros((frames, len(SCENE_HEADS)), np.float32)

    def silence(self) -> int:  # type: ignore[override]
        return 0

    def step(self, sight: object, memory: object) -> Heard:
        self.at = getattr(self, "at", -1) + 1
        return Heard(self.pitches[self.at], self.scene[self.at])

    def onset(self, midi: int, at_s: float, picked: bool = True, delays: Sequence[int] = ONSET_DELAYS) -> Script:
        for delay in delays:
            self._point(self.pitches[:, midi - LOWEST, HEADS.index(f"onset_{delay}")], at_s, delay)
        if picked:
            self._point(self.pitches[:, midi - LOWEST, HEADS.index("picked_6")], at_s, 6)
            self._point(self.scene[:, SCENE_HEADS.index("attack_3")], at_s, 3)
        return self

    def arrived(self, midi: int, at_s: float) -> Script:
        self._point(self.pitches[:, midi - LOWEST, HEADS.index("arrived_6")], at_s, 6)
        return self

    def dead(self, at_s: float) -> Script:
        self._point(self.scene[:, SCENE_HEADS.index("dead_6")], at_s, 6)
        return self

    def span(self, head: str, midi: int, start_s: float, end_s: float) -> Script:
        first, end = (round(t * RATE / HOP) + SOUNDING_DELAY for t in (start_s, end_s))
        self.pitches[first:end, midi - LOWEST, HEADS.index(head)] = 1.0
        return self

    def note(self, midi: int, start_s: float, end_s: float, picked: bool = True) -> Script:
        return self.onset(midi, start_s, picked).span("sounding", midi, start_s, end_s)

    @staticmethod
    def _point(head: npt.NDArray[np.float32], at_s: float, delay: int) -> None:
        centre = int(np.floor(at_s * RATE / HOP + delay))
        head[centre - 1 : centre + 2] = np.maximum(head[centre - 1 : centre + 2], [0.6, 1.0, 0.6])


def heard(sound: Sound, network: Network, cuts: Sequence[int] = (), early: bool = False) -> list[EarEvent]:
    """All events of a sound that is pushed in blocks cut at `cuts`, or of 1000 samples."""
    ear = NeuralEar(STREAM, network=copy.deepcopy(network), early=early)
    edges = [0, *sorted(cuts), len(sound)] if cuts else [*range(0, len(sound), 1000), len(sound)]
    events: list[EarEvent] = []
    for first, end in pairwise(edges):
        events += ear.push(Block(first, sound[first:end].astype(np.float32)))
    return events + ear.finish()


def notes_of(events: Sequence[EarEvent]) -> list[Note]:
    """The notes as they were left, by onset and pitch; all were made final or withdrawn, none began before the mark."""
    last: dict[int, Note] = {}
    closed: set[int] = set()
    mark = -1
    for event in events:
        match event:
            case Opened(number, note) | Revised(number, note):
                assert number not in closed
                assert note.onset_sample >= mark
                last[number] = note
            case Final(number):
                closed.add(number)
            case Withdrawn(number):
                del last[number]
            case Watermark(sample):
                assert sample > mark
                mark = sample
    assert set(last) <= closed
    return sorted(last.values(), key=lambda note: (note.onset_sample, note.pitch_midi or 0.0))


def cents(note: Note, midi: float) -> float:
    assert note.pitch_midi is not None
    return abs(100.0 * (note.pitch_midi - midi))


@pytest.mark.parametrize("midi", [40, 45, 52, 64, 76, 84])
def test_a_note_is_told_early_where_it_was_plucked_at_its_pitch_and_ends_when_it_ends(midi: int) -> None:
    events = heard(placed([(0.3, string(midi + 0.12, 0.5))], 1.2), Script(1.2).note(midi, 0.3, 0.8))
    (note,) = notes_of(events)
    told = next(e.told_sample for e in events if isinstance(e, Opened))
    assert told / STREAM - 0.3 < 0.026
    assert cents(note, midi + 0.12) < 5.0
    assert abs(note.onset_sample / STREAM - 0.3) < 0.005
    assert abs((note.offset_sample or 0) / STREAM - 0.8) < 0.030


@pytest.mark.parametrize(("early", "latest_s"), [(False, 0.044), (True, 0.026)])
def test_an_early_ear_believes_the_first_head_sooner(early: bool, latest_s: float) -> None:
    script = Script(1.0).note(57, 0.3, 0.7)
    script.pitches[:, 57 - LOWEST, HEADS.index("onset_3")] *= 0.75
    events = heard(placed([(0.3, string(57, 0.4))], 1.0), script, early=early)
    told = next(e.told_sample for e in events if isinstance(e, Opened)) / STREAM - 0.3
    assert latest_s - 0.018 < told < latest_s
    assert len(notes_of(events)) == 1


def test_what_the_later_heads_do_not_confirm_is_withdrawn() -> None:
    sound = placed([(0.3, string(57, 0.4))], 1.0)
    events = heard(sound, Script(1.0).onset(57, 0.3, delays=(3,)))
    assert [type(e) for e in events if not isinstance(e, Watermark | Revised)] == [Opened, Withdrawn]


def test_an_onset_that_only_the_last_head_tells_is_told_late() -> None:
    script = Script(1.0).onset(57, 0.3, delays=(10,)).span("sounding", 57, 0.3, 0.7)
    (note,) = notes_of(heard(placed([(0.3, string(57, 0.4))], 1.0), script))
    assert abs(note.onset_sample / STREAM - 0.3) < 0.005


def test_three_strings_at_once_are_three_voices_at_their_own_pitches() -> None:
    pitches = (52, 59, 68)
    script = Script(1.4)
    for pitch in pitches:
        script.note(pitch, 0.3, 1.0)
    notes = notes_of(heard(placed([(0.3, string(p, 0.7)) for p in pitches], 1.4), script))
    assert len({n.voice for n in notes}) == 3
    assert all(cents(n, p) < 10.0 for n, p in zip(notes, pitches, strict=True))


def test_the_same_pitch_begins_again_only_when_it_is_picked() -> None:
    picks = [(0.2 + 0.15 * i, string(55, 0.14)) for i in range(4)]
    sound = placed(picks, 1.2)
    again, sole = Script(1.2), Script(1.2)
    for i, (onset, _) in enumerate(picks):
        again.note(55, onset, onset + 0.15)
        sole.note(55, onset, onset + 0.15, picked=i == 0)
    assert len(notes_of(heard(sound, again))) == 4
    assert len(notes_of(heard(sound, sole))) == 1


def test_a_hammer_on_is_a_second_note_slurred_from_the_first() -> None:
    hammer = string(lambda t: 57 + 2 * np.clip((t - 0.15) / 0.01, 0, 1), 0.5)
    script = Script(1.2).note(57, 0.3, 0.455).note(59, 0.455, 0.8, picked=False)
    first, second = notes_of(heard(placed([(0.3, hammer)], 1.2), script))
    assert (first.gesture, second.gesture) == (Gesture.PICKED, Gesture.SLURRED)
    assert second.slurred_from == first.id
    assert cents(first, 57) < 5.0
    assert cents(second, 59) < 5.0
    assert abs(second.onset_sample / STREAM - 0.455) < 0.010


@pytest.mark.parametrize("stood", [0.05, 0.30])
def test_a_bend_is_one_note_with_its_start_unless_that_stood(stood: float) -> None:
    bend = string(lambda t: 62 + 1 - np.cos(np.pi * np.clip((t - stood) / 0.15, 0, 1)), 1.0, decay_s=2.0)
    middle = 0.3 + stood + 0.1
    script = Script(1.6).onset(62, 0.3).span("sounding", 62, 0.3, middle).span("sounding", 64, middle, 1.3)
    script.span("moving", 63, 0.3 + stood, 0.45 + stood).arrived(64, middle)
    notes = notes_of(heard(placed([(0.3, bend)], 1.6), script))
    assert notes[-1].gesture is Gesture.BEND
    assert cents(notes[-1], 64) < 10.0
    if stood < 0.12:
        assert len(notes) == 1
        assert abs((notes[0].from_midi or 0) - 62) < 0.3
    else:
        assert len(notes) == 2
        assert notes[1].slurred_from == notes[0].id
        assert cents(notes[0], 62) < 10.0


def test_vibrato_is_one_note_and_a_curl_is_measured() -> None:
    def swing(t: Sound) -> Sound:
        return np.asarray(64 + 0.2 * (1 - np.cos(2 * np.pi * 5.5 * np.maximum(0, t - 0.1))))

    script = Script(1.5).note(64, 0.3, 1.2)
    (note,) = notes_of(heard(placed([(0.3, string(swing, 0.9, decay_s=2.0))], 1.5), script))
    assert note.gesture is Gesture.VIBRATO
    curl = string(lambda t: 64 + 0.45 * np.clip((t - 0.12) / 0.25, 0, 1), 0.9, decay_s=2.0)
    (note,) = notes_of(heard(placed([(0.3, curl)], 1.5), script))
    assert note.gesture is Gesture.CURL
    assert abs(note.rise_cents - 45.0) < 8.0


def test_a_muted_stroke_is_a_dead_note() -> None:
    at = np.arange(round(0.09 * STREAM)) / STREAM
    thud = 0.4 * np.random.default_rng(3).standard_normal(len(at)) * np.exp(-at / 0.008)
    (note,) = notes_of(heard(placed([(0.3, thud)], 1.0), Script(1.0).dead(0.3)))
    assert note.gesture is Gesture.DEAD
    assert note.pitch_midi is None
    assert abs(note.onset_sample / STREAM - 0.3) < 0.010


def test_the_players_reference_moves_the_pitch() -> None:
    ear = NeuralEar(STREAM, a4_hz=415.0, network=Script(1.0).note(70, 0.3, 0.8))
    sound = placed([(0.3, string(69, 0.5))], 1.0)
    (note,) = notes_of(ear.push(Block(0, sound.astype(np.float32))) + ear.finish())
    # 440 Hz against A4 = 415 Hz is 1200 log2(440 / 415) cents above A4
    assert cents(note, 69 + 12 * np.log2(440 / 415)) < 5.0


def untrained(seed: int = 2) -> Network:
    """The real network with weights at random, loud enough that it says a lot."""
    rng = np.random.default_rng(seed)
    see, near, summary, whole, scene, shared, neighbour, join, pitch = 12, 16, 2, 16, 16, 8, 4, 16, 12
    sizes = {
        "see": (see, pitch_index().shape[1]), "near": (near, len(BACK) * see), "summary": (summary, near),
        "whole": (whole, len(BANDS_BACK) * BANDS + PITCHES * summary), "shared": (shared, scene),
        "neighbour": (neighbour, near), "join": (join, near + len(NEIGHBOURS) * neighbour + shared),
        "heads": (len(HEADS), pitch), "scene_heads": (len(SCENE_HEADS), scene),
    }  # fmt: skip
    shapes: dict[str, tuple[int, ...]] = {"place": (PITCHES, join)}
    for name, (rows, columns) in sizes.items():
        shapes |= {f"{name}.weight": (rows, columns), f"{name}.bias": (rows,)}
    for name, into, held in (("scene", whole, scene), ("pitch", join, pitch)):
        shapes |= {f"{name}.weight_ih_l0": (3 * held, into), f"{name}.weight_hh_l0": (3 * held, held)}
        shapes |= {f"{name}.bias_ih_l0": (3 * held,), f"{name}.bias_hh_l0": (3 * held,)}
    weights = {name: rng.standard_normal(shape) / np.sqrt(shape[-1]) for name, shape in shapes.items()}
    weights["heads.weight"] *= 12.0
    return Network(weights)


LINE = placed([(0.1, string(52, 0.3)), (0.4, string(52, 0.25)), (0.7, string(59, 0.4)), (1.2, string(64, 0.5))], 1.5)
UNTRAINED = untrained()
LINE_EVENTS = heard(LINE, UNTRAINED)


def test_heads_at_random_give_notes_that_keep_the_contract() -> None:
    assert len(notes_of(LINE_EVENTS)) > 3


@settings(max_examples=8, deadline=None)
@given(st.lists(st.integers(1, len(LINE) - 1), min_size=1, max_size=60, unique=True))
def test_blocks_of_any_size_give_the_same_events(cuts: list[int]) -> None:
    assert heard(LINE, UNTRAINED, cuts) == LINE_EVENTS


@pytest.mark.parametrize("keep", [copy.deepcopy, lambda ear: pickle.loads(pickle.dumps(ear))])
def test_a_copied_ear_goes_on_the_same(keep: Callable[[NeuralEar], NeuralEar]) -> None:
    ear = NeuralEar(STREAM, network=UNTRAINED)
    half = 37_001  # in the middle of a hop
    events = ear.push(Block(0, LINE[:half].astype(np.float32)))
    ear = keep(ear)
    events += ear.push(Block(half, LINE[half:].astype(np.float32)))
    assert events + ear.finish() == LINE_EVENTS


def test_a_note_that_touches_lost_frames_says_so() -> None:
    script = Script(1.4).note(57, 0.2, 0.5).note(60, 0.7, 1.0)
    sound = placed([(0.2, string(57, 0.3)), (0.7, string(60, 0.3))], 1.4)
    first, end = round(0.75 * STREAM), round(0.80 * STREAM)
    sound[first:end] = 0.0
    ear = NeuralEar(STREAM, network=script)
    events = ear.push(Block(0, sound[:first].astype(np.float32)))
    events += ear.push(Block(first, sound[first:].astype(np.float32), gap=end - first)) + ear.finish()
    assert [note.touches_gap for note in notes_of(events)] == [False, True]


@pytest.mark.parametrize(("rate", "a4_hz"), [(4000, 440.0), (400_000, 440.0), (44100, 100.0)])
def test_rates_and_references_out_of_reach_are_refused(rate: int, a4_hz: float) -> None:
    with pytest.raises(ValueError, match=r"expected 300 to 600|the ear hears"):
        NeuralEar(rate, a4_hz, UNTRAINED)


def test_a_block_out_of_place_is_refused() -> None:
    ear = NeuralEar(STREAM, network=UNTRAINED)
    ear.push(Block(0, np.zeros(100, np.float32)))
    with pytest.raises(ValueError, match="begins at sample 90, expected 100"):
        ear.push(Block(90, np.zeros(100, np.float32)))
