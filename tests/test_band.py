"""The band keeps time and tells the changes. Pitches are those of equal temperament from A4 = 440 Hz (ISO 16)."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.band import Band, clicked_beats
from listener.voicing import voicing
from progressions.chart import parse_chart
from progressions.chords import parse_chord
from progressions.timeline import Timeline, TimeMap

RATE = 48000
LEAD = 5 * RATE
NAMES = ("C", "D♭", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B")


def timeline(changes: str, tempo: float = 80.0, meter: str = "4/4", rate: int = RATE) -> Timeline:
    chart = parse_chart(f"key: A\nmeter: {meter}\n{changes}\n")
    return Timeline(chart, 2, TimeMap.steady(rate, tempo, LEAD), closing_bars=2)


def onsets(samples: np.ndarray, rate: int = RATE) -> np.ndarray:
    """Seconds at which a stroke begins: curvature, which the smooth pad lacks, after a tenth of a second without."""
    curved = np.abs(np.diff(samples, n=2))
    loud = np.flatnonzero(curved > 0.15 * curved.max())
    return loud[np.diff(loud, prepend=-rate) > 0.1 * rate] / rate


def strengths(samples: np.ndarray, low_hz: float, high_hz: float) -> dict[str, float]:
    """The strongest spectral line of each pitch class between two frequencies, in dB under the strongest of all."""
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), 8 * len(samples)))
    hz = np.fft.rfftfreq(8 * len(samples), 1 / RATE)
    found = {}
    for pitch_class, name in enumerate(NAMES):
        lines = [440.0 * 2 ** ((midi - 69) / 12) for midi in range(pitch_class, 128, 12)]
        inside = [line for line in lines if low_hz <= line <= high_hz]
        found[name] = max(spectrum[np.argmin(np.abs(hz - line))] for line in inside)
    loudest = max(found.values())
    return {name: 20 * np.log10(strength / loudest) for name, strength in found.items()}


@pytest.mark.parametrize(("tempo", "rate"), [(80.0, 48000), (133.7, 44100), (320.0, 96000)])
def test_strokes_fall_on_2_and_4_within_a_millisecond(tempo: float, rate: int) -> None:
    line = timeline("| A7 | D7 |", tempo, rate=rate)
    beat_s = 60.0 / tempo
    heard = onsets(Band(line, rate).render(LEAD, round(8 * beat_s * rate)), rate)
    assert heard == pytest.approx([beat_s * beat for beat in (1, 3, 5, 7)], abs=0.001)


def test_the_count_in_is_whole_bars_of_four_seconds_or_more_and_its_last_bar_differs() -> None:
    for tempo, meter, beats in ((80, "4/4", 8), (60, "4/4", 4), (59, "4/4", 4), (61, "4/4", 8), (120, "3/4", 9)):
        band = Band(timeline("| A7 |", tempo, meter), RATE)
        assert band.count_in_beats == beats
        assert band.count_in_beats * 60 / tempo >= 4.0
        assert band.start_sample == pytest.approx(LEAD - beats * 60 / tempo * RATE, abs=1)
    band = Band(timeline("| A7 |"), RATE, swing=2.0)
    assert not band.render(band.start_sample - RATE, RATE).any()
    counted = band.render(band.start_sample, 6 * RATE)
    beat_s = 0.75
    first, last = np.split(counted, 2)
    assert onsets(first) == pytest.approx([beat_s * beat for beat in range(4)], abs=0.001)
    # a swing of 2:1 puts the off-beats, which the last bar alone has, two thirds into the beat
    counts = [0, 2 / 3, 1, 5 / 3, 2, 8 / 3, 3]
    assert onsets(last) == pytest.approx([beat_s * beat for beat in counts], abs=0.001)


def test_the_pad_sounds_the_root_and_the_shell_of_each_chord_and_nothing_else() -> None:
    # root, third and seventh of common practice: A7 has C♯ and G, D7 has F♯ and C, E♭maj7 has G and D, Bm7♭5 D A F
    expected = {
        "A7": {"A", "D♭", "G"},
        "D7": {"D", "F♯", "C"},
        "E♭maj7": {"E♭", "G", "D"},
        "Bm7♭5": {"B", "D", "A", "F"},
        "G7sus4": {"G", "C", "F"},
        "F": {"F", "A", "C"},
        "C6": {"C", "E", "A"},
        "B°7": {"B", "D", "A♭", "F"},
        "C/E": {"C", "E", "G"},
    }
    band = Band(timeline("| " + " | ".join(expected) + " |"), RATE)
    for number, (symbol, names) in enumerate(expected.items()):
        beat_frames = 36000
        start = LEAD + number * 4 * beat_frames
        # beat 3 holds no stroke; fundamentals of the pad lie below 350 Hz
        quiet = band.render(start + 2 * beat_frames, beat_frames)
        found = strengths(quiet, 78.0, 345.0)
        assert {name for name, level in found.items() if level > -15.0} >= names, symbol
        assert parse_chord(symbol).pitch_classes >= {midi % 12 for midi in voicing(parse_chord(symbol))}
        assert {NAMES[midi % 12] for midi in voicing(parse_chord(symbol))} == names, symbol


def test_the_reference_pitch_of_the_player_is_kept() -> None:
    samples = Band(timeline("| A5 |"), RATE, a4_hz=415.0).render(LEAD + 2 * 36000, 36000)
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), 16 * len(samples)))
    peak_hz = np.argmax(spectrum) * RATE / (16 * len(samples))
    assert peak_hz == pytest.approx(415.0 / 4, rel=0.0005)  # A2 is two octaves under A4


def test_no_chord_is_silent_but_for_the_strokes_and_the_closing_chord_has_none() -> None:
    band = Band(timeline("| N.C. | A7 |"), RATE)
    assert not band.render(LEAD, 36000).any()
    assert np.abs(band.render(LEAD + 36000, 1000)).max() > 0.1
    closing = band.render(LEAD + 16 * 36000, 8 * 36000)
    assert np.abs(closing).max() > 0.05
    assert max(click.beat for click in band.clicks) == 15
    assert not band.render(band.end_sample, RATE).any()


def test_a_repeated_chord_is_one_sound_and_a_change_has_no_step() -> None:
    samples = Band(timeline("| A7 | A7 | D7 |"), RATE).render(LEAD, 12 * 36000)
    seam, change = 4 * 36000, 8 * 36000
    for place in (seam, change):
        near = samples[place - 4800 : place + 4800]
        assert np.abs(np.diff(near)).max() < 0.02
    before, after = samples[seam - 9600 : seam], samples[seam : seam + 9600]
    assert np.sqrt(np.mean(after**2)) == pytest.approx(np.sqrt(np.mean(before**2)), rel=0.1)


@settings(max_examples=30, deadline=None)
@given(start=st.integers(LEAD - 210000, LEAD + 600000), cuts=st.lists(st.integers(0, 6000), max_size=5))
def test_any_stretch_gives_the_same_samples_however_it_is_cut(start: int, cuts: list[int]) -> None:
    line = timeline("| A7 | D7 E7 |")
    whole = Band(line, RATE).render(start, 6000)
    cut = Band(line, RATE)
    edges = [0, *sorted(cuts), 6000]
    parts = [cut.render(start + low, high - low) for low, high in reversed(list(itertools.pairwise(edges)))]
    assert np.array_equal(np.concatenate(parts[::-1]), whole)


def test_which_beats_are_clicked_in_each_meter() -> None:
    assert [clicked_beats(beats) for beats in (2, 3, 4, 5)] == [(1,), (1, 2), (1, 3), (1, 2, 3, 4)]
