"""What is fuzzed: each target takes any bytes, and fails where a parser breaks its promise.

The promise: a value that is read back as it is written, or a refusal in one line that names a place.
"""

from __future__ import annotations

from collections.abc import Callable

from progressions.chart import parse_chart, write_chart
from progressions.chords import parse_chord
from progressions.degrees import parse_degree
from progressions.errors import ChartError, ChordError, ExchangeError, ProgressionsError
from progressions.exchange import musicxml
from progressions.exchange.harte import parse_harte
from progressions.exchange.jams import read_jams
from progressions.exchange.lab import read_lab
from progressions.keys import parse_key

_KEYS = tuple(parse_key(name) for name in ("C", "E♭", "F♯ minor"))


class BrokenPromise(Exception):
    """A parser that gave neither a sound value nor a refusal with a place."""


def _text(data: bytes) -> str:
    return data.decode("utf-8", "replace")


def _check_refusal(error: ProgressionsError, length: int) -> None:
    """Raises BrokenPromise where the refusal names no place within what was read."""
    if isinstance(error, ChordError):
        placed = 0 <= error.position <= length
    elif isinstance(error, ChartError):
        placed = error.line >= 1 and error.column >= 1
    else:
        placed = isinstance(error, ExchangeError) and bool(error.place)
    if not placed or "\n" in str(error):
        raise BrokenPromise(f"no place: {error!r}") from error


def chords(data: bytes) -> None:
    text = _text(data)
    for read in (parse_chord, parse_harte):
        try:
            chord = read(text)
        except ProgressionsError as error:
            _check_refusal(error, len(text))
            continue
        if parse_chord(chord.symbol) != chord:
            raise BrokenPromise(f"{text!r} is read as {chord}, and that as {parse_chord(chord.symbol)}")


def degrees(data: bytes) -> None:
    text = _text(data)
    for key in _KEYS:
        try:
            chord = parse_degree(text, key)
        except ProgressionsError as error:
            _check_refusal(error, len(text))
            continue
        if parse_chord(chord.symbol) != chord:
            raise BrokenPromise(f"{text!r} in {key} is read as {chord}, and that otherwise")


def charts(data: bytes) -> None:
    try:
        chart = parse_chart(_text(data))
    except ProgressionsError as error:
        _check_refusal(error, len(data))
        return
    if parse_chart(write_chart(chart)) != chart:
        raise BrokenPromise("a chart is not read back as it was written")


def scores(data: bytes) -> None:
    try:
        chart = musicxml.read(data)
    except ProgressionsError as error:
        _check_refusal(error, len(data))
        return
    if any(not character.isprintable() for character in chart.title):
        return  # such a title has no place in a score that we write
    again = musicxml.read(musicxml.write(chart).encode())
    if [bar.chords for bar in again.played] != [bar.chords for bar in chart.played]:
        raise BrokenPromise("a chart is not read back from the score that was written")


# What a score may say in a measure; each byte of a `measures` input is one of these, so that every input is sound XML.
# A crasher is kept as the score that it makes, under `scores`.
_BARLINE = "<barline>{}</barline>"
_SOUND = "<sound {}/>"
_HARMONY = "<harmony><root><root-step>{}</root-step></root><kind>{}</kind>{}</harmony>"
_DEGREE = "<degree><degree-value>{}</degree-value><degree-alter>{}</degree-alter><degree-type>{}</degree-type></degree>"
_PIECES = (
    "</measure><measure>",
    "<note><duration>1</duration></note>",
    "<note><duration>2</duration></note>",
    "<note><duration>4</duration></note>",
    "<backup><duration>2</duration></backup>",
    *(_BARLINE.format(f'<repeat direction="{way}"/>') for way in ("forward", "backward")),
    *(
        _BARLINE.format(f'<ending type="{kind}" number="{n}"/>')
        for kind in ("start", "stop")
        for n in ("1", "2", "1,2")
    ),
    *(_SOUND.format(f'{word}="s"') for word in ("segno", "dalsegno", "coda", "tocoda")),
    *(_SOUND.format(f'{word}="yes"') for word in ("fine", "dacapo")),
    *(_SOUND.format(f'tempo="{tempo}"') for tempo in (60, 120, 9000)),
    *(
        f"<attributes><time><beats>{b}</beats><beat-type>{u}</beat-type></time></attributes>"
        for b, u in ("44", "34", "68")
    ),
    *(f"<attributes><key><fifths>{fifths}</fifths></key></attributes>" for fifths in (-7, 0, 7)),
    "<attributes><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>",
    '<attributes><measure-style><measure-repeat type="start">1</measure-repeat></measure-style></attributes>',
    '<attributes><measure-style><measure-repeat type="stop"/></measure-style></attributes>',
    "<direction><direction-type><rehearsal>A</rehearsal></direction-type></direction>",
    *(_HARMONY.format(root, kind, "") for root, kind in (("C", "major"), ("F", "dominant-13th"), ("B", "none"))),
    *(
        _HARMONY.format("G", kind, _DEGREE.format(number, alter, change))
        for kind in ("dominant", "minor", "suspended-fourth", "other")
        for number in (2, 3, 5, 7, 9, 11, 13)
        for alter in (-1, 0, 1)
        for change in ("add", "alter", "subtract")
    ),
)


def score_of_pieces(data: bytes) -> bytes:
    """A score put together of `_PIECES`, one for each byte; two bytes reach the harmonies with degrees."""
    inside, at = [], 0
    while at < len(data):
        piece = data[at] if data[at] < 64 or at + 1 == len(data) else data[at] + data[at + 1]
        at += 1 if data[at] < 64 else 2
        inside.append(_PIECES[piece % len(_PIECES)])
    return f"<score-partwise><part><measure>{''.join(inside)}</measure></part></score-partwise>".encode()


def measures(data: bytes) -> None:
    scores(score_of_pieces(data))


def jams(data: bytes) -> None:
    try:
        read_jams(_text(data), tempo_bpm=120.0)
    except ProgressionsError as error:
        _check_refusal(error, len(data))


def labs(data: bytes) -> None:
    try:
        read_lab(_text(data), tempo_bpm=120.0)
    except ProgressionsError as error:
        _check_refusal(error, len(data))


TARGETS: dict[str, Callable[[bytes], None]] = {
    "chords": chords,
    "degrees": degrees,
    "charts": charts,
    "scores": scores,
    "measures": measures,
    "jams": jams,
    "labs": labs,
}
