"""One <harmony> element of MusicXML and the chord that it means."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from progressions.chords import NO_CHORD, Chord, parse_chord
from progressions.errors import ChordError, ExchangeError, ProgressionsError
from progressions.exchange.kinds import (
    FUNCTIONAL_KINDS,
    KINDS,
    NO_CHORD_KIND,
    OTHER_KIND,
    Alteration,
    functions_of_kind,
    kind_with,
)
from progressions.exchange.tree import Node
from progressions.naming import chord_with_functions
from progressions.pitch import LETTERS, Spelled
from progressions.qualities import FUNCTIONS
from progressions.symbols import read_after_root, tone_functions

# The nth inversion has the nth of these in the bass, as far as the chord has it.
_STACK = (("3", "♭3", "4", "2"), ("5", "♭5", "♯5"), ("♭7", "7", "°7", "6"), ("9", "♭9", "♯9"))


def read_harmony(node: Node, name: str) -> Chord:
    """The chord of a harmony element. Raises ExchangeError with its line."""
    place = f"line {node.line}"
    kinds = list(node.all("kind"))
    if len(kinds) != 1:
        found = "no kind" if not kinds else "one chord over another"
        raise ExchangeError(name, place, found, "one root and kind in a harmony")
    kind = kinds[0].text
    if kind == NO_CHORD_KIND:
        return NO_CHORD
    if node.first("root") is None:
        raise ExchangeError(name, place, "a numeral in the place of a root", "a chord symbol with its root")
    root = _note(node, "root", name)
    bass = None if node.first("bass") is None else _note(node, "bass", name)
    written = kinds[0].attributes.get("text", "")
    if kind not in KINDS and kind != OTHER_KIND:
        expected = "a chord symbol" if kind in FUNCTIONAL_KINDS else f"one of {', '.join(KINDS)}"
        raise ExchangeError(name, place, f"kind {kind[:30]!r}", expected)
    alterations = [_alteration(degree, name) for degree in node.all("degree")]
    try:
        if kind == OTHER_KIND and not alterations:
            return parse_chord(f"{root}{written}" if bass is None else f"{root}{written}/{bass}")
        functions = functions_of_kind(kind, alterations)
        chord = chord_with_functions(root, functions, bass)
    except ProgressionsError as error:
        raise ExchangeError(name, place, str(error), "a chord that has a symbol") from error
    if bass is None and (inversion := _inversion(node, functions, root)) is not None:
        return chord_with_functions(root, functions, inversion)
    return _as_written(chord, written, root, functions, bass)


def _as_written(chord: Chord, written: str, root: Spelled, functions: frozenset[str], bass: Spelled | None) -> Chord:
    """The symbol that is printed in the score, where it names the same tones: C7♭9 or C9♭9."""
    try:
        printed = parse_chord(f"{root}{written}" if bass is None else f"{root}{written}/{bass}")
        reading = read_after_root(printed.quality, root, 0)
    except ChordError:
        return chord
    return printed if set(tone_functions(reading.row, reading.modifiers)[0]) == functions else chord


def _note(node: Node, what: str, name: str) -> Spelled:
    step, alter = node.text_of(what, f"{what}-step"), node.text_of(what, f"{what}-alter") or "0"
    try:
        half_steps = float(alter)
        if step not in LETTERS or not step or half_steps not in (-2, -1, 0, 1, 2):
            raise ValueError
    except ValueError:
        place = f"line {node.line}"
        expected = "a step from A to G with an alter from -2 to 2"
        raise ExchangeError(name, place, f"{what} {step[:10]!r} altered by {alter[:10]!r}", expected) from None
    return Spelled(step, int(half_steps))


def _alteration(node: Node, name: str) -> Alteration:
    number, alter, kind = (node.text_of(f"degree-{word}") for word in ("value", "alter", "type"))
    try:
        half_steps = float(alter or "0")
        if kind not in ("add", "alter", "subtract") or half_steps not in (-2, -1, 0, 1, 2) or len(number) > 3:
            raise ValueError
        return Alteration(int(number), int(half_steps), kind)
    except ValueError:
        found = f"degree {number[:10]!r}, {alter[:10]!r}, {kind[:10]!r}"
        expected = "a number, an alter from -2 to 2, and add, alter or subtract"
        raise ExchangeError(name, f"line {node.line}", found, expected) from None


def _inversion(node: Node, functions: frozenset[str], root: Spelled) -> Spelled | None:
    number = node.text_of("inversion")
    if number not in ("1", "2", "3", "4"):
        return None
    found = next((function for function in _STACK[int(number) - 1] if function in functions), None)
    return None if found is None else root.up(*FUNCTIONS[found])


def write_harmony(chord: Chord) -> str:
    """The harmony element of a chord, its symbol in the `text` of the kind, so that it is printed as it stands."""
    if chord.root is None:
        root = '<root><root-step text="">C</root-step></root>'
        return f'<harmony>{root}<kind text="N.C.">{NO_CHORD_KIND}</kind></harmony>'
    reading = read_after_root(chord.quality, chord.root, 0)
    kind, alterations = kind_with(frozenset(tone_functions(reading.row, reading.modifiers)[0]))
    parts = [_written_note("root", chord.root), f"<kind text={quoteattr(chord.quality)}>{escape(kind)}</kind>"]
    if chord.bass is not None:
        parts.append(_written_note("bass", chord.bass))
    parts += [
        f'<degree print-object="no"><degree-value>{one.number}</degree-value>'
        f"<degree-alter>{one.alter}</degree-alter><degree-type>{one.kind}</degree-type></degree>"
        for one in alterations
    ]
    return f"<harmony>{''.join(parts)}</harmony>"


def _written_note(what: str, note: Spelled) -> str:
    alter = f"<{what}-alter>{note.accidental}</{what}-alter>" if note.accidental else ""
    return f"<{what}><{what}-step>{note.letter}</{what}-step>{alter}</{what}>"
