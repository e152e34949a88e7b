"""The document's fields as they were laid down, and the events that can be replayed."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from lines import finals, grade_events, heard, notes, timeline
from listener.document import NEVER, Shown, dumps, heard_document, sitting_document
from listener.errors import InputFileError
from listener.events import Final, Note, Opened, Watermark, Withdrawn
from listener.graded import ChorusFinal, GradeWithdrawn
from listener.measures import measure_chorus
from listener.replay import EVENTS_SCHEMA, event_line, header_line, read_event
from listener.rules import Rules

OVER = timeline("| C7 | F7 |")
LINE = [("E♭4", 0, 0.5), ("E4", 0.5, 0.5, {"from_midi": "E♭4"}), ("A3", 3.97, 1), (None, 6, 0.1), ("C4+33", 8.5, 1)]
GRADED = finals(grade_events(heard(LINE, OVER), OVER))
RATE = OVER.time_map.rate_hz

NOTE_FIELDS = (
    "id", "onset_s", "offset_s", "pitch_midi", "from_midi", "gesture", "chorus", "bar", "beat", "chord", "function",
    "grade", "explained", "resolved", "pushed", "scored", "why_not", "first_shown_s", "final_s",
)  # fmt: skip


def document() -> dict[str, object]:
    chorus = measure_chorus(1, GRADED, OVER, Rules(), RATE)
    shown = {1: Shown(2400, 96_000)}
    return sitting_document(
        graded=GRADED, choruses=[chorus], shown=shown, rate=RATE, tempo_bpm=60, a4_hz=440, rules=Rules(), ear="e/1"
    )


def test_the_document_has_the_fields_laid_down() -> None:
    told = json.loads(dumps(document()))
    assert told["schema"] == "bluethird/chorus-notes/1"
    assert set(told) >= {"tempo_bpm", "a4_hz", "rules", "ear", "notes", "landings", "choruses"}
    assert all(set(note) >= set(NOTE_FIELDS) for note in told["notes"])


def test_notes_tell_seconds_places_and_grades() -> None:
    first, second, early, dead, last = json.loads(dumps(document()))["notes"]
    assert (first["onset_s"], first["offset_s"], first["first_shown_s"], first["final_s"]) == (0.0, 0.5, 0.05, 2.0)
    assert (first["grade"], first["function"], first["resolved"]) == ("third_approach", "♭3", True)
    assert (second["from_midi"], second["pitch_midi"], second["first_shown_s"]) == (63.0, 64.0, None)
    assert (early["chorus"], early["bar"], early["beat"], early["chord"], early["early"]) == (1, 1, 4.97, "F7", True)
    assert (dead["pitch_midi"], dead["gesture"], dead["grade"], dead["why_not"]) == (None, "dead", None, "dead note")
    assert (last["pitch_midi"], last["onset_s"]) == (60.33, 8.5)


def test_landings_and_choruses_are_plain_values() -> None:
    told = json.loads(dumps(document()))
    assert [(at["bar"], at["function"], at["verdicts"]) for at in told["landings"]] == [
        (1, "3", ["nearest", "smooth", "guide tone"]),  # delayed, from the ♭3
        (2, "3", ["guide tone"]),  # down a fifth over E♭ and C
        (3, "R", ["leap"]),  # the closing chord, up a minor third over B♭
    ]
    (chorus,) = told["choruses"]
    assert chorus["functions"][0] == {"chord": "C7", "function": "♭3", "notes": 1}
    assert chorus["phrases"][0] == {"beat": 1.0, "bar": 1, "length_beats": 1.0}
    assert "landings" not in chorus


def test_a_document_in_ascii_is_the_same_document() -> None:
    told = {**document(), "title": "C♯°7 has 𝄫7"}
    text = dumps(told, ascii_only=True)
    assert text.isascii()
    assert json.loads(text) == json.loads(dumps(told))


def test_what_is_not_finite_is_null() -> None:
    chorus = replace(measure_chorus(1, GRADED, OVER, Rules(), RATE), fit=float("nan"), fit_error=float("inf"))
    odd = replace(GRADED[0], note=replace(GRADED[0].note, level_db=float("-inf")))
    told = sitting_document(
        graded=[odd], choruses=[chorus], shown={}, rate=RATE, tempo_bpm=60, a4_hz=440, rules=Rules(), ear="e/1"
    )
    read = json.loads(dumps(told))
    assert (read["choruses"][0]["fit"], read["choruses"][0]["fit_error"], read["notes"][0]["level_db"]) == (None,) * 3
    assert read["notes"][0]["final_s"] is NEVER.final_sample


def test_the_document_without_harmony_has_the_same_notes() -> None:
    heard_notes = notes(LINE, OVER)
    told = heard_document(notes=heard_notes, shown={1: Shown(2400, 96_000)}, rate=RATE, a4_hz=440, ear="e/1")
    graded = json.loads(dumps(document()))["notes"]
    assert told["schema"] == "bluethird/notes/1"
    for bare, full in zip(told["notes"], graded, strict=True):
        assert bare.items() <= full.items()
        assert not {"chord", "grade", "function", "chorus"} & set(bare)


def test_events_are_read_back_as_they_were_told() -> None:
    told = [*heard(LINE, OVER), *grade_events(heard(LINE, OVER), OVER)]
    bent = Note(9, 1, None, 60.123456789, contour=((1, 60.5), (400, 61.25)), slurred_from=3)
    told += [Opened(9, bent, 5), Final(9, 6), Withdrawn(9, 7), GradeWithdrawn(9, 7), Watermark(8), ChorusFinal(1, 9)]
    assert [read_event(event_line(event)) for event in told] == told
    assert all("\n" not in event_line(event) for event in told)


def test_events_begin_with_their_schema_and_rate() -> None:
    assert json.loads(header_line(RATE, ear="e/1")) == {"schema": EVENTS_SCHEMA, "rate_hz": RATE, "ear": "e/1"}


@pytest.mark.parametrize(
    "line", ["", "[]", "{}", '{"event": "sung"}', '{"event": "final", "id": 1}', '{"event": "opened"']
)
def test_a_line_that_is_no_event_is_refused(line: str) -> None:
    with pytest.raises(InputFileError, match=r"expected one event of bluethird/events/1"):
        read_event(line)
