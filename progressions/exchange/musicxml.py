"""Charts from MusicXML 4.0 (and older) scores, and charts written as such scores.

A score is read as it sounds: repeats, endings and jumps are played out, transposing parts are brought to concert
pitch, chords hold until the next one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from progressions.bars import Meter
from progressions.changes import Chart
from progressions.errors import ExchangeError, ProgressionsError
from progressions.exchange.archive import is_archive, score_in_archive
from progressions.exchange.engraving import write
from progressions.exchange.framing import chart_of_measures
from progressions.exchange.measures import Measure, MeasureReader
from progressions.exchange.tree import Node, read_xml
from progressions.exchange.unfolding import playing_order

__all__ = ["read", "write"]


def read(data: bytes, name: str = "score") -> Chart:
    """The chart of a score, plain (.musicxml) or compressed (.mxl); `name` stands in messages.

    The part with the first chord symbol is read. Raises ExchangeError with the line and what was expected there.
    """
    root = read_xml(score_in_archive(data, name) if is_archive(data) else data, name)
    reader = MeasureReader(name)
    measures = [reader.read(node) for node in _measures_of(root, name)]
    measures = _with_signs_in_force(_with_repeated(measures, name))
    if not any(measure.chords for measure in measures):
        raise ExchangeError(name, f"line {root.line}", "no chord symbols", "a part with harmony elements")
    try:
        order = playing_order([measure.signs for measure in measures])
    except ProgressionsError as error:
        raise ExchangeError(name, f"line {root.line}", str(error), "repeats and jumps that come to an end") from error
    if not any(measures[at].chords for at in order):
        raise ExchangeError(name, f"line {root.line}", "no chord in what is played", "endings that are reached")
    title = " ".join((root.text_of("work", "work-title") or root.text_of("movement-title")).split())
    return chart_of_measures([measures[at] for at in order], title, name)


def _measures_of(root: Node, name: str) -> list[Node]:
    """The measure elements of the part with the first harmony; in a timewise score those of the part's id."""
    if root.tag == "score-timewise":
        parts: dict[str, list[Node]] = {}
        for measure in root.all("measure"):
            for part in measure.all("part"):
                turned = Node("measure", measure.attributes, part.line, "", part.children)
                parts.setdefault(part.attributes.get("id", ""), []).append(turned)
        candidates = list(parts.values())
    elif root.tag == "score-partwise":
        candidates = [list(part.all("measure")) for part in root.all("part")]
    else:
        raise ExchangeError(name, f"line {root.line}", f"<{root.tag[:30]}>", "a MusicXML score")
    for measures in candidates:
        if any(measure.first("harmony") is not None for measure in measures):
            return measures
    raise ExchangeError(name, f"line {root.line}", "no chord symbols", "a part with harmony elements")


def _with_repeated(measures: Sequence[Measure], name: str) -> list[Measure]:
    """The measures with the chords of those that repeat signs stand for."""
    filled: list[Measure] = []
    for at, measure in enumerate(measures):
        if measure.repeats > at:
            raise ExchangeError(name, measure.place, "a repeat of measures before the first", "a measure to repeat")
        if measure.repeats and not measure.chords:
            measure = replace(measure, chords=filled[at - measure.repeats].chords)
        filled.append(measure)
    return filled


def _with_signs_in_force(measures: Sequence[Measure]) -> list[Measure]:
    """The measures with meter, key and tempo as the page gives them, where a jump leads there too."""
    meter, key, tempo = Meter(), None, None
    filled = []
    for measure in measures:
        meter, key, tempo = measure.meter or meter, measure.key or key, measure.tempo or tempo
        filled.append(replace(measure, meter=meter, key=key, tempo=tempo))
    return filled
