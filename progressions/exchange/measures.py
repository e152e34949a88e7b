"""The measures of a MusicXML part: where their chords stand, and the signs of meter, key, tempo and repeats."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any

from progressions.bars import Meter
from progressions.chords import Chord, with_root
from progressions.errors import ExchangeError, ProgressionsError
from progressions.exchange.harmony import read_harmony
from progressions.exchange.tree import Node
from progressions.exchange.unfolding import MOST_TIMES, Signs
from progressions.keys import Key, plain_root
from progressions.pitch import Spelled

_NUMBER = re.compile(r"-?\d{1,9}(?:\.\d{1,9})?")
_FIFTHS_OF_C = "FCGDAEB"
_BEAT_UNITS = {"whole": Fraction(4), "half": Fraction(2), "quarter": Fraction(1), "eighth": Fraction(1, 2)}


@dataclass(frozen=True, slots=True)
class Measure:
    """One written measure. `chords` are (quarters from its beginning, chord), in order; `length` is in quarters.

    `meter`, `key`, `tempo` (quarters per minute) and `swing` are None where nothing new is written. `repeats` is n
    in a measure that stands for the one n before it.
    """

    line: int
    number: str
    length: Fraction
    chords: tuple[tuple[Fraction, Chord], ...]
    signs: Signs
    meter: Meter | None = None
    key: Key | None = None
    tempo: Fraction | None = None
    swing: Fraction | None = None
    section: str = ""
    repeats: int = 0

    @property
    def place(self) -> str:
        return f"line {self.line}, measure {self.number}"


@dataclass(slots=True)
class _Found:
    """What a measure has told so far."""

    chords: dict[Fraction, Chord] = field(default_factory=dict)
    at: Fraction = Fraction(0)
    length: Fraction = Fraction(0)
    meter: Meter | None = None
    key: Key | None = None
    tempo: Fraction | None = None
    swing: Fraction | None = None
    section: str = ""
    signs: dict[str, Any] = field(default_factory=dict)


class MeasureReader:
    """Reads the measures of one part one after the other: divisions, transposition and measure repeats hold on."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.divisions = Fraction(1)
        self.transposition = (0, 0)
        self.repeats = 0

    def read(self, node: Node) -> Measure:
        """Raises ExchangeError with the line of what cannot be read."""
        found = _Found()
        for child in node.children:
            if child.tag in _READERS:
                _READERS[child.tag](self, child, found)
                found.length = max(found.length, found.at)
        chords = tuple(sorted(found.chords.items(), key=lambda pair: pair[0]))
        if chords and chords[-1][0] >= found.length > 0:
            raise self.refusal(node, "a chord after the end of its measure", "chords within the measure")
        return Measure(
            line=node.line,
            number=node.attributes.get("number", "?")[:10],
            length=found.length,
            chords=chords,
            signs=Signs(**found.signs),
            meter=found.meter,
            key=found.key,
            tempo=found.tempo,
            swing=found.swing,
            section=found.section,
            repeats=self.repeats,
        )

    def refusal(self, node: Node, found: str, expected: str) -> ExchangeError:
        return ExchangeError(self.name, f"line {node.line}", found, expected)

    def _quarters(self, node: Node, tag: str) -> Fraction:
        text = node.text_of(tag)
        if _NUMBER.fullmatch(text) is None:
            raise self.refusal(node, f"{tag} {text[:20]!r}", "a number of divisions")
        return Fraction(text) / self.divisions

    def _whole(self, node: Node, text: str, what: str, low: int, high: int) -> int:
        if re.fullmatch(r"-?\d{1,3}", text) is None or not low <= int(text) <= high:
            raise self.refusal(node, f"{what} {text[:20]!r}", f"a whole number from {low} to {high}")
        return int(text)

    def note(self, node: Node, found: _Found) -> None:
        if node.first("chord") is None and node.first("grace") is None and node.first("duration") is not None:
            found.at += self._quarters(node, "duration")

    def forward(self, node: Node, found: _Found) -> None:
        found.at += self._quarters(node, "duration")

    def backup(self, node: Node, found: _Found) -> None:
        found.at = max(Fraction(0), found.at - self._quarters(node, "duration"))

    def harmony(self, node: Node, found: _Found) -> None:
        chord = read_harmony(node, self.name)
        if chord.root is not None and self.transposition != (0, 0):
            chord = with_root(chord, plain_root(chord.root.up(*self.transposition)))
        at = found.at + (self._quarters(node, "offset") if node.first("offset") is not None else 0)
        if at < 0:
            raise self.refusal(node, "a chord before its measure", "chords within the measure")
        if found.chords.setdefault(at, chord) != chord:
            raise self.refusal(node, f"{chord} beside {found.chords[at]}", "one chord at a time")

    def attributes(self, node: Node, found: _Found) -> None:
        if node.first("divisions") is not None:
            divisions = node.text_of("divisions")
            if _NUMBER.fullmatch(divisions) is None or Fraction(divisions) <= 0:
                raise self.refusal(node, f"divisions {divisions[:20]!r}", "a number above 0")
            self.divisions = Fraction(divisions)
        for transpose in node.all("transpose"):
            steps = self._whole(transpose, transpose.text_of("diatonic") or "0", "diatonic", -70, 70)
            semitones = self._whole(transpose, transpose.text_of("chromatic") or "0", "chromatic", -120, 120)
            self.transposition = (steps % 7, semitones % 12)
        if (key := node.first("key")) is not None:
            found.key = self._key(key)
        if (time := node.first("time")) is not None:
            found.meter = self._meter(time)
        for style in node.all("measure-style"):
            for repeat in style.all("measure-repeat"):
                stops = repeat.attributes.get("type") == "stop"
                self.repeats = 0 if stops else self._whole(repeat, repeat.text, "measure repeat", 1, 8)

    def _key(self, node: Node) -> Key | None:
        if node.first("fifths") is None:
            return None  # a signature of free choice tells no tonic
        fifths = self._whole(node, node.text_of("fifths"), "fifths", -7, 7)
        minor = node.text_of("mode") in ("minor", "aeolian")
        place = fifths + 1 + (3 if minor else 0)
        tonic = Spelled(_FIFTHS_OF_C[place % 7], place // 7)
        return Key(plain_root(tonic.up(*self.transposition)), minor).usual()

    def _meter(self, node: Node) -> Meter:
        """The meter; halves are counted in quarters (2/2 is 4/4), and sums are one bar (3+2/8 is 5/8)."""
        tops, units = node.text_of("beats"), node.text_of("beat-type")
        if node.first("senza-misura") is not None or len(list(node.all("beats"))) != 1:
            raise self.refusal(node, "no single meter", "one meter, such as 4/4")
        top = sum(self._whole(node, part.strip(), "beats", 1, 64) for part in tops.split("+"))
        unit = self._whole(node, units, "beat type", 1, 64)
        if unit < 4:
            top, unit = top * 4 // unit, 4
        try:
            return Meter(top, unit)
        except ProgressionsError as error:
            raise self.refusal(node, f"meter {tops[:10]}/{units}", "2 to 12 over 4 or 8, or 2/2") from error

    def direction(self, node: Node, found: _Found) -> None:
        for kind in node.all("direction-type"):
            if (rehearsal := kind.text_of("rehearsal")) and not found.section:
                found.section = " ".join(rehearsal.split())
            if (metronome := kind.first("metronome")) is not None and found.tempo is None:
                found.tempo = _metronome(metronome)
        for sound in node.all("sound"):
            self.sound(sound, found)

    def sound(self, node: Node, found: _Found) -> None:
        told = node.attributes
        if _NUMBER.fullmatch(told.get("tempo", "")) and Fraction(told["tempo"]) > 0:
            found.tempo = Fraction(told["tempo"])
        swing = node.first("swing")
        if swing is not None:
            found.swing = self._swing(swing)
        signs = found.signs
        if told.get("dacapo") == "yes":
            signs["jumps_to"] = ""
        for word, sign in (("dalsegno", "jumps_to"), ("segno", "segno"), ("coda", "coda"), ("tocoda", "to_coda")):
            if told.get(word):
                signs[sign] = told[word]
        if told.get("fine"):
            signs["fine"] = True

    def _swing(self, node: Node) -> Fraction | None:
        if node.first("straight") is not None:
            return Fraction(1)
        if node.text_of("swing-type") not in ("", "eighth"):
            return None
        first, second = (self._whole(node, node.text_of(word), f"swing {word}", 1, 999) for word in ("first", "second"))
        return Fraction(first, second)

    def barline(self, node: Node, found: _Found) -> None:
        signs = found.signs
        ending, repeat = node.first("ending"), node.first("repeat")
        if ending is not None:
            if ending.attributes.get("type") == "start":
                signs["ending"] = tuple(self._ending_numbers(ending))
            else:
                signs["ending_ends"] = True
        if repeat is not None and repeat.attributes.get("direction") == "forward":
            signs["opens"] = True
        elif repeat is not None:
            signs["times"] = self._whole(repeat, repeat.attributes.get("times", "2"), "times", 1, MOST_TIMES)

    def _ending_numbers(self, node: Node) -> Iterator[int]:
        for word in re.split(r"[\s,]+", node.attributes.get("number", "").strip(" ,")):
            yield self._whole(node, word, "ending", 1, MOST_TIMES)


_READERS = {
    "note": MeasureReader.note,
    "forward": MeasureReader.forward,
    "backup": MeasureReader.backup,
    "harmony": MeasureReader.harmony,
    "attributes": MeasureReader.attributes,
    "direction": MeasureReader.direction,
    "sound": MeasureReader.sound,
    "barline": MeasureReader.barline,
}


def _metronome(node: Node) -> Fraction | None:
    """Quarters per minute of a metronome mark with a note and a number; other marks tell no tempo."""
    unit, number = node.text_of("beat-unit"), node.text_of("per-minute")
    if unit not in _BEAT_UNITS or _NUMBER.fullmatch(number) is None or Decimal(number) <= 0:
        return None
    dotted = Fraction(3, 2) if node.first("beat-unit-dot") is not None else Fraction(1)
    return Fraction(number) * _BEAT_UNITS[unit] * dotted
