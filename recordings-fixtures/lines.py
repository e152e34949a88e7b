"""The lines written by hand: the built-in take, and short takes (swing, low strings, repeats, dead notes, pushes)."""

from __future__ import annotations

from phrases import Take, read_rows

_BLUES = ("I", "I", "I", "I", "IV", "IV", "I", "I", "V", "IV", "I", "I")
_KEYS = {"A": "A7 D7 E7", "G": "G7 C7 D7", "E": "E7 A7 B7", "C": "C7 F7 G7", "D": "D7 G7 A7", "F": "F7 B♭7 C7",
         "B♭": "B♭7 E♭7 F7", "E♭": "E♭7 A♭7 B♭7"}  # fmt: skip


def blues(key: str, bars: int = 12) -> tuple[str, ...]:
    """The plain twelve-bar blues, or its first bars."""
    one, four, five = _KEYS[key].split()
    return tuple({"I": one, "IV": four, "V": five}[degree] for degree in _BLUES[:bars])


# bar beat pitch length gesture marks
BUILT_IN = """
# The call: up through the third, and the chord spelled downwards as its answer.
1  1   C4   0.7  picked      resolves
1  1&  C♯4  0.3  hammer
1  2   E4   0.6
1  2&  A4   0.35
1  3   G4   1.2
2  2   A4   0.6
2  2&  G4   0.3
2  3   E4   0.6
2  3&  C♯4  0.3
2  4   A3   0.85
# The call again, by a slide; a thirteenth for colour; into the turn of the harmony by a semitone.
3  2   A3   0.6
3  2&  B3   0.3
3  3   C4   0.7  picked      resolves
3  3&  C♯4  0.3  slide
3  4   E4   0.9
4  1&  F♯4  0.3
4  2   G4   0.95
4  3&  E4   0.3
4  4   A4   0.6
4  4&  G4   0.3
# D7: its third bent out of its flat third, and the blue third of the key on top with vibrato.
5  1   F♯4  1.3  bend<F4
5  2&  A4   0.3
5  3   C5   0.95
6  1   C5   1.8  vibrato
6  3   A4   0.6
6  3&  F♯4  0.3
6  4   D4   0.6
# Home early: the third of A7 takes the place of the downbeat. A curl on the high flat third.
6  4&  C♯4  1.3  picked      push
7  2   E4   0.6
7  2&  G4   0.3
7  3   C5   1.7  curl        resolves
8  2   E4   0.6
8  2&  E♭4  0.9
8  3&  A3   0.3
8  4   G3   0.85
# E7 from below; its fifth lingers into the D7 bar.
9  1   G♯3  0.6
9  1&  B3   0.3
9  2   D4   1.1
9  3&  E4   0.3
9  4   D4   0.85
10 1   B3   0.6
10 1&  A3   0.3
10 2   D4   0.6
10 3   F4   0.7  picked      resolves
10 3&  F♯4  0.3  hammer
10 4   A4   0.85
11 1   G4   0.6
11 1&  E4   0.3
11 2   C4   0.6  picked      resolves
11 2&  C♯4  0.3
11 3   A3   1.2
12 2   E4   0.6
12 2&  C4   0.3  picked      left:R
12 3   A3   1.2
13 1   C♯4  2.4
"""

# Clean swung eighths in G: arpeggios up and down, every landing a step away.
SWUNG_EIGHTHS = """
1  1   G3   0.6
1  1&  B3   0.3
1  2   D4   0.6
1  2&  F4   0.3
1  3   G4   0.6
1  3&  F4   0.3
1  4   D4   0.6
1  4&  B3   0.3
2  1   G3   0.6
2  1&  B3   0.3
2  2   D4   0.6
2  2&  G4   0.3
2  3   F4   0.6
2  3&  D4   0.3
2  4   B3   0.9
3  1   D4   0.6
3  1&  F4   0.3
3  2   G4   0.6
3  2&  B4   0.3
3  3   D5   0.6
3  3&  B4   0.3
3  4   G4   0.6
3  4&  F4   0.3
4  1   E4   0.6  picked
4  1&  F4   0.3
4  2   G4   0.6
4  2&  D4   0.3
4  3   B3   0.6
4  3&  D4   0.3
4  4   F4   0.6
4  4&  D4   0.3
5  1   E4   0.6
5  1&  C4   0.3
5  2   E4   0.6
5  2&  G4   0.3
5  3   B♭4  0.6
5  3&  G4   0.3
5  4   E4   0.6
5  4&  C4   0.3
6  1   B♭3  0.6
6  1&  C4   0.3
6  2   E4   0.6
6  2&  G4   0.3
6  3   E4   0.6
6  3&  C4   0.3
6  4   B♭3  0.6
6  4&  C4   0.3
7  1   B3   1.5
"""

# Low strings in E: walking quarters and a riff, down to the open sixth string.
LOW_LINE = """
1  1   E2   0.9
1  2   G♯2  0.9
1  3   B2   0.9
1  4   D3   0.9
2  1   E3   0.6
2  1&  D3   0.3
2  2   B2   0.6
2  2&  G♯2  0.3
2  3   E2   1.8
3  1   G2   0.45  picked     resolves
3  1&  G♯2  0.45  hammer
3  2   B2   0.9
3  3   E2   0.6
3  3&  E2   0.3
3  4   D3   0.9
4  1   B2   0.9
4  2   G♯2  0.9
4  3   E2   0.6
4  3&  G♯2  0.3
4  4   B2   0.9
5  1   C♯3  0.9
5  2   A2   0.9
5  3   G2   0.9
5  4   E2   0.9
6  1   C♯3  0.9
6  2   E3   0.9
6  3   A2   1.8
"""

# The same pitch struck again: swung eighths, then triplets, then with the string damped between the strokes.
REPEATS = """
1  1   A3   0.62
1  1&  A3   0.30
1  2   A3   0.62
1  2&  A3   0.30
1  3   C♯4  0.62
1  3&  C♯4  0.30
1  4   E4   0.62
1  4&  E4   0.30
2  1   G4   0.31
2  1.3333 G4 0.31
2  1.6667 G4 0.31
2  2   E4   0.31
2  2.3333 E4 0.31
2  2.6667 E4 0.31
2  3   C♯4  0.31
2  3.3333 C♯4 0.31
2  3.6667 C♯4 0.31
2  4   A3   0.9
3  1   A4   0.25
3  1&  A4   0.15
3  2   A4   0.25
3  2&  A4   0.15
3  3   G4   0.25
3  3&  G4   0.15
3  4   E4   0.9
4  1   C4   0.62  picked     again
4  1&  C4   0.30  picked     resolves
4  2   C♯4  0.62
4  3   A3   1.5
"""

# Muted strokes between the notes of a riff.
DEAD_NOTES = """
1  1   A3   0.6
1  1&  A3   0.1  dead
1  2   C♯4  0.6
1  2&  A3   0.1  dead
1  3   E4   0.9
1  4   A3   0.1  dead
1  4&  A3   0.1  dead
2  1   G4   0.9
2  2   A3   0.1  dead
2  3   E4   0.6
2  3&  A3   0.1  dead
2  4   C♯4  0.9
3  1   A3   0.1  dead
3  2   A3   0.1  dead
3  2&  G3   0.3
3  3   A3   0.9
3  4   A3   0.1  dead
4  1   A3   0.6
4  1&  A3   0.1  dead
4  2   E4   0.6
4  2&  A3   0.1  dead
4  3   C♯4  1.5
"""

# Early hands and pushes at the changes of a quick-change blues in C, and the cases that look like them and are none.
EARLY_AND_PUSHED = """
1  1   C4   0.6
1  2   E4   0.6
1  3   G4   0.9
2  1   A4   1.5  picked      early=35
2  3   C5   0.9
2  4   A4   0.6
# the third of C7 a swung eighth early, and nothing more until beat two: a push
2  4&  E4   1.2  picked      push
3  2   G4   0.6
3  3   C4   0.9
4  1   E4   0.9
4  2   B♭4  0.9
4  3   G4   0.6
# a tone of both chords that sounds across the change: a push
4  4&  C5   1.3  picked      push
5  2   A4   0.9
5  3   F4   0.9
6  1   A4   0.9
6  2   C5   0.9
6  3   A4   0.6
# a tone of both chords that is damped before the change: no push
6  4&  C5   0.12
7  2   G4   0.9
7  3   E4   0.9
8  1   G4   0.9
8  2   E4   0.9
8  3   C4   0.9
9  1   B4   1.5  picked      early=30
9  3   D5   0.9
9  4   B4   0.6
# a tone of the old chord only, just before the change, with another note on the second half of the beat: it stays
10 1   G4   0.4  picked      before=30
10 1&  A4   0.3
10 2   F4   0.9
10 3   E♭4  0.9
10 4   C4   0.6
11 1   E4   1.5  picked      early=40
11 3   G4   0.9
11 4   C4   0.9
"""

QUICK_CHANGE_C = ("C7", "F7", "C7", "C7", "F7", "F7", "C7", "C7", "G7", "F7", "C7", "C7")


def built_in() -> Take:
    """One chorus of a shuffle in A after two silent bars, with the closing chord."""
    return Take("built-in", "A blues", "electric", "A", 80, 2, 6.0, blues("A"), read_rows(BUILT_IN, 2), tail_s=1.5)


def short_takes() -> list[Take]:
    """The hand-written takes of the benchmark."""
    swung = read_rows(SWUNG_EIGHTHS, 2)
    return [
        Take("swung_eighths", "Swung eighths", "electric", "G", 120, 2, 0.5, blues("G", 8), swung),
        Take("low_line", "Low line", "clean", "E", 100, 2, 0.5, blues("E", 6), read_rows(LOW_LINE, 2)),
        Take("repeats", "Repeats", "acoustic", "A", 100, 2, 0.5, blues("A", 4), read_rows(REPEATS, 2)),
        Take("dead_notes", "Dead notes", "electric", "A", 100, 2, 0.5, blues("A", 4), read_rows(DEAD_NOTES, 2)),
        Take("early_and_pushed", "Early hands and pushes", "clean", "C", 96, 2, 0.7, QUICK_CHANGE_C,
             read_rows(EARLY_AND_PUSHED, 2)),
    ]  # fmt: skip
