"""The sitting as plain lines, for an output that is no terminal: chords as they come, notes when final, reports."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from listener import palette
from listener.events import Gesture
from listener.glyphs import ascii_text
from listener.graded import Grade, Graded, GradeEvent, GradeFinal
from listener.words import remarks
from progressions.pitch import midi_name
from progressions.timeline import Span, Timeline


def chord_line(span: Span, timeline: Timeline) -> str:
    """ "chorus 1 bar 5  D7  IV", with the beat where it is not the first, and a word for the closing chord."""
    beat = span.beat + 1
    place = f"chorus {span.chorus} bar {span.bar}" + ("" if beat == 1 else f" beat {_number(float(beat))}")
    words = [place, span.chord.symbol]
    if not span.chord.is_no_chord:
        words.append(timeline.degree(span))
    if span.closing:
        words.append("closing chord")
    return "  ".join(words)


def note_line(graded: Graded) -> str:
    """ "bar 1 beat 2.5  C♯  3 of A7  chord tone": place, name, function, grade, then what else there is to tell."""
    words = ["before the first bar"] if graded.bar is None or graded.beat is None else [_place(graded)]
    if graded.note.gesture is Gesture.DEAD or graded.note.pitch_midi is None:
        return "  ".join([*words, "dead note"])
    words.append(graded.name or midi_name(round(graded.note.pitch_midi)))
    if graded.function and graded.chord:
        words.append(f"{graded.function} of {graded.chord}")
    look = palette.look_of(graded.grade, graded.shade)
    words.append(look.word + (f" {palette.RISES}" if graded.grade is Grade.THIRD_APPROACH else ""))
    return "  ".join([*words, *remarks(graded, final=True)])


def report_lines(report: Sequence[str]) -> list[str]:
    """The report set off by empty lines, its lines indented under the first."""
    if not report:
        return []
    return ["", report[0], *(f"  {line}" for line in report[1:]), ""]


class PlainLines:
    """A push object: grade events and the place of the stream in, lines out, in the order of the stream."""

    def __init__(self, timeline: Timeline, *, ascii_only: bool = False) -> None:
        self._timeline = timeline
        self._ascii_only = ascii_only
        self._told = 0  # spans told or passed over

    def push(self, events: Iterable[GradeEvent], sample: int) -> list[str]:
        """Lines for what became known up to `sample`."""
        lines: list[str] = []
        for event in events:
            if isinstance(event, GradeFinal):
                lines += self._chords(min(event.told_sample, sample))
                lines.append(note_line(event.graded))
        lines += self._chords(sample)
        return self.clean(lines)

    def report(self, report: Sequence[str]) -> list[str]:
        """Lines of a chorus report."""
        return self.clean(report_lines(report))

    def clean(self, lines: Sequence[str]) -> list[str]:
        """The lines in the signs that the output can write."""
        return [ascii_text(line) for line in lines] if self._ascii_only else list(lines)

    def _chords(self, sample: int) -> list[str]:
        """A line for each span that has come, unless the same chord goes on within the chorus."""
        lines, spans = [], self._timeline.spans
        while self._told < len(spans) and self._timeline.span_samples(spans[self._told])[0] <= sample:
            span = spans[self._told]
            before = spans[self._told - 1] if self._told else None
            same = before is not None and (before.chord.symbol, before.chorus, before.closing) == (
                span.chord.symbol,
                span.chorus,
                span.closing,
            )
            if not same:
                lines.append(chord_line(span, self._timeline))
            self._told += 1
        return lines


def _place(graded: Graded) -> str:
    return f"bar {graded.bar} beat {_number(graded.beat or 0.0)}"


def _number(value: float) -> str:
    """Two decimals at most, none where they are zero; cut, not rounded, so that beat 4.999 is not beat 5."""
    return f"{int(value * 100 + 1e-6) / 100:g}"
