"""Which pitches tell a chord: its root in the bass and its shell above, low enough to leave the guitar's line free.

The shell is the third and the seventh (the guide tones), as every comping method teaches; a chord without one of
them has what stands in its place. An altered fifth is heard too: it tells m7♭5 from m7.
"""

from __future__ import annotations

from progressions.chords import Chord

BASS_LOW = 40  # E2 to D♯3: heard on small speakers by its partials, above the mud
SHELL_LOW = 53  # F3 to E4: thirds and sevenths are clear from here up (the low interval limit of arrangers)

_THIRDS = ("3", "♭3", "4", "2")
_SEVENTHS = ("7", "♭7", "°7", "6", "13")
_FIFTHS = ("5", "♭5", "♯5")
_ALTERED_FIFTHS = ("♭5", "♯5")


def voicing(chord: Chord) -> tuple[int, ...]:
    """MIDI pitches, bass first; empty for no chord. Every pitch class belongs to the chord."""
    if chord.is_no_chord or chord.root is None:
        return ()
    root = chord.root.pitch_class
    bass = root if chord.bass is None else chord.bass.pitch_class
    shell = {_place(root + semitones, SHELL_LOW) for semitones in _shell(chord)}
    if bass != root:
        shell.add(_place(root, SHELL_LOW))
    return (_place(bass, BASS_LOW), *sorted(shell))


def _shell(chord: Chord) -> list[int]:
    """Semitones above the root of the tones that tell the quality."""
    tones = {tone.function: tone.semitones for tone in chord.tones}
    third = [function for function in _THIRDS if function in tones][:1]
    seventh = [function for function in _SEVENTHS if function in tones][:1]
    altered = [function for function in _ALTERED_FIFTHS if function in tones]
    fifth = altered if len(altered) == 1 else [] if seventh else [f for f in _FIFTHS if f in tones][:1]
    return [tones[function] for function in (*third, *seventh, *fifth)]


def _place(pitch_class: int, low: int) -> int:
    """The pitch of this class in the octave that starts at `low`."""
    return low + (pitch_class - low) % 12
