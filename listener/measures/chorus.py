"""One chorus measured, from the final grades of the sitting so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from listener.graded import ChorusMeasures, Grade, Graded, Landing, Shade, Verdict
from listener.measures.advice import Came, next_thing, tell
from listener.measures.fit import chord_weights, fit, lost_place
from listener.measures.functions import functions_unused, functions_used, thirds
from listener.measures.hangover import hangover
from listener.measures.intervals import wilson
from listener.measures.landings import Entry, entries, landing
from listener.measures.line import Played, played_notes
from listener.measures.phrases import phrases, silence_share
from listener.measures.timing import timing
from listener.rules import Rules
from progressions.timeline import Span, Timeline

MASTERS_ROOT_SHARE = 0.30  # of chord-tone landings, counted on 24 solos over blues changes
MASTERS_GUIDE_SHARE = 0.40


def measure_chorus(
    chorus: int,
    graded: Sequence[Graded],
    timeline: Timeline,
    rules: Rules,
    rate: int,
    partial: bool = False,
    until_sample: float | None = None,
) -> ChorusMeasures:
    """Measure `chorus` (from 1). `graded` holds every final grade of the sitting so far, in any order.

    `rate` is that of the sample indices in Hz. `until_sample` is where a partial chorus was left: changes and chords
    from there on did not come up. A note counts in the chorus of its onset; one that stands early or pushed for the
    first chord of the first chorus counts there. Notes on the closing chord count in nothing but the landing on it,
    which is told once it has been played.
    """
    start, chorus_end = timeline.chorus_samples(chorus)
    end = float(chorus_end) if until_sample is None else min(float(chorus_end), until_sample)
    end_beat = timeline.time_map.beat_at(end)
    everything = played_notes(graded, timeline, rules, rate)
    own = [g for g in graded if g.chorus == chorus and g.note.onset_sample < end]
    notes = [p for p in everything if p.scored and p.graded.chorus == chorus and p.graded.note.onset_sample < end]
    form = [span for span in timeline.spans if span.chorus == chorus and not span.closing]
    spans = [span for span in form if span.start_beat < end_beat]
    came = _came(timeline, chorus, everything, graded, rules, end_beat)
    landings = tuple(at.landing for at in came if at.entry.counted)
    used, told = functions_used(notes), thirds(own)
    fitting, lost = fit(notes, timeline, chord_weights(form)), lost_place(notes, timeline, chorus)
    root_share, root_interval, guide_share = _landing_shares(landings)
    return ChorusMeasures(
        chorus=chorus,
        partial=partial,
        notes=sum(g.note.pitch_midi is not None for g in own),
        scored=len(notes),
        chord_tones=_count(notes, Grade.CHORD_TONE),
        third_approaches=_count(notes, Grade.THIRD_APPROACH),
        colour=_count(notes, Grade.OUTSIDE, Shade.COLOUR),
        on_the_way=_count(notes, Grade.OUTSIDE, Shade.ON_THE_WAY),
        outside=_count(notes, Grade.OUTSIDE, Shade.OUTSIDE),
        fit=fitting.difference,
        fit_error=fitting.error,
        thirds_played=told.played,
        thirds_resolved=told.resolved,
        thirds_left=told.left,
        landings=landings,
        hangovers=tuple(at.hangover for at in came if at.hangover),
        root_share=root_share,
        root_interval=root_interval,
        root_habit=root_interval is not None and root_interval[0] > MASTERS_ROOT_SHARE,
        guide_share=guide_share,
        functions=used,
        unused=functions_unused(spans, used),
        phrases=phrases(everything, timeline, chorus, end_beat, rate),
        silence_share=silence_share(graded, start, end),
        dead_notes=sum(g.note.pitch_midi is None for g in own),
        timing=timing([note for note in notes if note.line], timeline.time_map, rate),
        lost_place_bars=lost,
        next_thing=_find_the_place(spans) if lost else next_thing(came, spans, used),
        entry=next((at.landing for at in came if not at.entry.counted), None),
    )


def _landing_shares(landings: Sequence[Landing]) -> tuple[float | None, tuple[float, float] | None, float | None]:
    """Among the landings on chord tones: the share of roots with its interval, and the share of guide tones."""
    tones = [at for at in landings if at.grade is Grade.CHORD_TONE]
    if not tones:
        return None, None, None
    roots = sum(at.function == "R" for at in tones)
    guides = sum(Verdict.GUIDE_TONE in at.verdicts for at in tones)
    return roots / len(tones), wilson(roots, len(tones)), guides / len(tones)


def _count(notes: Sequence[Played], grade: Grade, shade: Shade | None = None) -> int:
    return sum(n.graded.grade is grade and (shade is None or (n.graded.shade or Shade.OUTSIDE) is shade) for n in notes)


def _came(
    timeline: Timeline,
    chorus: int,
    everything: Sequence[Played],
    graded: Sequence[Graded],
    rules: Rules,
    end_beat: float,
) -> list[Came]:
    """How the line came to every change that came up, in order."""
    came, line = [], [note for note in everything if note.line]
    for entry in entries(timeline, chorus):
        if entry.beat >= end_beat and not entry.span.closing:
            continue
        landed = landing(entry, line, timeline, rules)
        if landed.open:
            landed = _unless_unsure(landed, entry, graded, timeline)
        if not (entry.span.closing and landed.open):
            came.append(Came(entry, landed, hangover(entry, everything, timeline, rules)))
    return came


def _unless_unsure(landed: Landing, entry: Entry, graded: Sequence[Graded], timeline: Timeline) -> Landing:
    """A chord in which only notes that cannot be told apart were heard is not left open: its landing is unknown."""
    for heard in sorted(graded, key=lambda g: g.note.onset_sample):
        beat = float(timeline.time_map.beat_at(heard.note.onset_sample))
        cannot_tell = heard.note.unsure or heard.note.touches_gap
        if cannot_tell and float(entry.beat) <= beat < float(entry.until_beat):
            return replace(landed, open=False, note_id=heard.note.id)
    return landed


def _find_the_place(spans: Sequence[Span]) -> str:
    """The root of the first chord of the form, where a line that has lost its place finds it again."""
    first = spans[0]
    return tell(first.chord, first.chord.tones[0], first.bar)
