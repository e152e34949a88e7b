"""Pitch against ISO 16, the MIDI 1.0 note numbers and two other libraries."""

from __future__ import annotations

import librosa
import music21.pitch
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from progressions.errors import ProgressionsError
from progressions.pitch import (
    LETTERS,
    Spelled,
    cents_between,
    hz_to_midi,
    midi_name,
    midi_to_hz,
    parse_spelled,
)

SPELLED = st.builds(Spelled, st.sampled_from(LETTERS), st.integers(-2, 2))


# ISO 16: A4 = 440 Hz; the others follow by equal temperament and stand in every table of pitches (C4 = 60, MIDI 1.0).
@pytest.mark.parametrize(
    ("midi", "hz", "name"),
    [
        (69, 440.0, "A4"),
        (60, 261.6256, "C4"),
        (40, 82.4069, "E2"),  # the low E string
        (64, 329.6276, "E4"),  # the high one
        (21, 27.5, "A0"),
        (108, 4186.009, "C8"),
        (0, 8.1758, "C-1"),
        (127, 12543.854, "G9"),
    ],
)
def test_note_numbers_and_frequencies_are_those_of_the_standards(midi: int, hz: float, name: str) -> None:
    assert midi_to_hz(midi) == pytest.approx(hz, rel=1e-6)
    assert hz_to_midi(hz) == pytest.approx(midi, abs=1e-4)
    assert midi_name(midi) == name


def test_a_reference_of_its_own_moves_every_pitch() -> None:
    assert midi_to_hz(69, 415.0) == 415.0
    # 415 Hz lies 1200·log2(440/415) = 101.27 cents under 440 Hz.
    assert cents_between(hz_to_midi(440.0), hz_to_midi(415.0)) == pytest.approx(-101.27, abs=0.005)


def test_arrays_agree_with_another_library_and_leave_unvoiced_frames_out() -> None:
    hz = np.array([82.4, 196.0, 440.0, 987.8])
    np.testing.assert_allclose(hz_to_midi(hz), librosa.hz_to_midi(hz))
    np.testing.assert_allclose(midi_to_hz(hz_to_midi(hz, 442.0), 442.0), hz)
    np.testing.assert_array_equal(np.isnan(hz_to_midi(np.array([0.0, np.nan, 440.0]))), [True, True, False])


@pytest.mark.parametrize("hz", [0.0, -1.0, float("nan"), float("inf")])
def test_a_frequency_that_is_none_is_refused(hz: float) -> None:
    with pytest.raises(ProgressionsError, match="above 0"):
        hz_to_midi(hz)


@given(st.floats(-20, 140), st.floats(400, 480))
def test_hz_and_midi_undo_each_other(midi: float, a4_hz: float) -> None:
    assert hz_to_midi(midi_to_hz(midi, a4_hz), a4_hz) == pytest.approx(midi, abs=1e-9)


@given(st.integers(24, 108), SPELLED)
def test_names_with_octave_are_those_of_another_library(midi: int, spelled: Spelled) -> None:
    midi += (spelled.pitch_class - midi) % 12
    name = midi_name(midi, spelled).replace("𝄫", "--").replace("♭", "-").replace("𝄪", "##").replace("♯", "#")
    assert music21.pitch.Pitch(name).midi == midi


def test_the_octave_goes_with_the_letter() -> None:
    assert midi_name(60, Spelled("B", 1)) == "B♯3"
    assert midi_name(59, Spelled("C", -1)) == "C♭4"
    with pytest.raises(ProgressionsError, match="pitch class 1"):
        midi_name(61, Spelled("C"))


@pytest.mark.parametrize("text", ["Bb", "B♭"])
def test_flats_and_sharps_are_read_in_both_writings(text: str) -> None:
    assert parse_spelled(text) == Spelled("B", -1)


@pytest.mark.parametrize("text", ["", "H", "c", "C#b", "C###", "C 4"])
def test_what_is_no_note_name_is_refused(text: str) -> None:
    with pytest.raises(ProgressionsError, match="letter A to G"):
        parse_spelled(text)


@given(SPELLED)
def test_a_name_reads_back(spelled: Spelled) -> None:
    assert parse_spelled(str(spelled)) == spelled


@given(SPELLED, SPELLED)
def test_the_interval_to_a_note_leads_there(low: Spelled, high: Spelled) -> None:
    steps, semitones = low.interval_to(high)
    assert low.up(steps, semitones).pitch_class == high.pitch_class
