"""How a graded note is told in words, the same on the screen and in plain lines."""

from __future__ import annotations

from listener.graded import Explained, Graded

RISEN = "♭3→3"
_LEFT = {"R": "♭3 left for R", "9": "♭3 left for 9", "4": "♭3 left for 4", "stays": "♭3 stays"}


def remarks(graded: Graded, *, final: bool) -> tuple[str, ...]:
    """What a note is beyond its function and grade, most telling first; an open note is not explained yet."""
    words: list[str] = []
    if final and graded.third:
        words.append(RISEN)
    elif final and graded.explained is Explained.FLAT_THIRD_LEFT:
        words.append(_LEFT.get(graded.left or "", str(graded.explained)))
    elif final and graded.explained not in (None, Explained.PLAIN):
        words.append(str(graded.explained))
    if graded.pushed:
        words.append("pushed")
    if graded.early:
        words.append("early")
    if graded.low_third:
        words.append("low 3")
    if graded.key_degree == "♭3":
        words.append("blue third of the key")
    elif graded.key_degree is not None:
        words.append(f"{graded.key_degree} of the key")
    if not graded.scored:
        words.append(f"not scored: {graded.why_not}" if graded.why_not else "not scored")
    return tuple(words)
