"""Whether a frame belongs to the note that sounds, or to another string that sounds with it."""

from __future__ import annotations

from dataclasses import replace
from math import log2

from listener.ear.frames import Frame
from listener.ear.voice import NEAR, Voice

CONTINUED = 0.62  # clarity from which a sounding pitch goes on
SAME = 0.6  # semitones: within them it is the same pitch
RINGS = 0.95  # below this share of new sound something rings on under it
PURE = 0.97  # clarity of one string alone
FARTHEST = 7.5  # semitones: no finger slurs farther; a common sub-period of two strings may lie there
DOUBTED = 14  # hops for which a far pitch is doubted
WHOLE_SEMITONES = 0.4


def of_voice(voice: Voice, frame: Frame) -> Frame:
    """The frame with the pitch, of all sound or of the new sound, that is nearer to the voice's."""
    other = frame.new_clarity > CONTINUED and frame.new_share < RINGS
    if other and abs(frame.new_pitch - voice.reference) < min(NEAR, abs(frame.pitch - voice.reference)):
        return replace(frame, pitch=frame.new_pitch, clarity=frame.new_clarity, quick_clarity=0.0)
    return frame


def is_doubtful(voice: Voice, frame: Frame) -> bool:
    """A pitch that may be a mixture of two strings, or the other string, or too far for a finger."""
    away = abs(frame.pitch - voice.reference)
    if away <= NEAR:
        return False
    if frame.end < voice.rings_until:
        return frame.clarity < PURE or abs(frame.pitch - voice.rings_pitch) < SAME
    return away > FARTHEST and voice.doubtful < DOUBTED


def is_sub_period(voice: Voice, frame: Frame) -> bool:
    """A whole number of the voice's periods: two strings sound, and their common period was found."""
    return is_whole(voice.reference, frame.pitch)


def is_whole(high: float, low: float) -> bool:
    """Whether the period of `low` is two or more whole periods of `high` (float MIDI or NaN)."""
    if not low < high:
        return False
    ratio = 2.0 ** ((high - low) / 12.0)
    whole = round(ratio)
    return whole >= 2 and abs(12.0 * log2(ratio / whole)) < WHOLE_SEMITONES
