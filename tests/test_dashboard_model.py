"""The dashboard's model: events, place and level in, the state of the screen out."""

from dataclasses import replace

from listener.dashboard import DashboardModel, InputLevel, Phase
from listener.events import Gesture, Note
from listener.graded import ChorusFinal, Grade, Graded, GradeFinal, GradeOpened, GradeRevised, GradeWithdrawn
from progressions.chart import parse_chart
from progressions.timeline import Timeline, TimeMap

RATE = 1000  # at 60 bpm a beat is 1000 samples
CHART = """title: Shuffle
key: A
meter: 4/4
| A7 | A7 | D7 E7 |
"""


def model(choruses: int = 2) -> DashboardModel:
    chart = parse_chart(CHART)
    return DashboardModel(Timeline(chart, choruses, TimeMap.steady(RATE, 60.0), closing_bars=2))


def graded(id: int, sample: int, **values: object) -> Graded:
    heard = Graded(Note(id, sample, None, 61.0), 1, 1, 1.0 + sample / RATE, 0, "A7", "3", "C♯", Grade.CHORD_TONE)
    return replace(heard, **values)


def test_the_wait_shows_the_first_chord_and_the_next_of_another_name() -> None:
    state = model().state()
    assert (state.phase, state.chord_now, state.chord_next, state.next_bar) == (Phase.WAITING, "A7", "D7", 3)
    assert (state.key, state.title, state.form_bars, state.choruses) == ("A", "Shuffle", 3, 2)


def test_the_count_in_counts_up_to_the_first_beat() -> None:
    screen = model()
    counted = []
    for sample in range(-8 * RATE, 0, RATE):
        screen.move(sample)
        state = screen.state()
        assert (state.phase, state.chord_now, state.chord_next) == (Phase.COUNT_IN, None, "A7")
        counted.append((state.count, state.beats_until))
    assert counted == [(1, 8), (2, 7), (3, 6), (4, 5), (1, 4), (2, 3), (3, 2), (4, 1)]


def test_the_place_tells_chorus_bar_beat_and_how_long_until_the_next_chord() -> None:
    screen = model()
    screen.move(int(18.5 * RATE))  # chorus 2 begins at beat 12; 6.5 beats later it is bar 2, beat 3.5
    state = screen.state()
    assert (state.phase, state.chorus, state.bar, state.beat) == (Phase.PLAYING, 2, 2, 3.5)
    assert (state.chord_now, state.chord_next, state.next_bar, state.beats_until) == ("A7", "D7", 3, 1.5)
    screen.move(8 * RATE)
    state = screen.state()
    assert (state.chord_now, state.chord_next, state.next_bar, state.next_beat) == ("D7", "E7", 3, 3.0)


def test_the_last_chorus_shows_its_ending_and_the_closing_chord_has_no_next() -> None:
    screen = model()
    screen.move(0)
    assert len(screen.state().bars) == 3
    screen.move(12 * RATE)
    assert [bar.chords[0].symbol for bar in screen.state().bars] == ["A7", "A7", "D7", "A7", "A7"]
    screen.move(25 * RATE)
    state = screen.state()
    assert (state.phase, state.bar, state.chord_now, state.chord_next) == (Phase.CLOSING, 4, "A7", None)
    screen.end()
    assert screen.state().phase is Phase.ENDED


def test_notes_open_change_in_place_become_final_and_may_be_withdrawn() -> None:
    screen = model()
    screen.push([GradeOpened(2, graded(2, 900), 1000), GradeOpened(1, graded(1, 100), 1000)])
    assert [(note.id, note.final) for note in screen.state().notes] == [(1, False), (2, False)]
    screen.push([GradeRevised(2, graded(2, 900, function="♭3", grade=Grade.THIRD_APPROACH), 1200)])
    screen.push([GradeFinal(1, graded(1, 100), 1300)])
    first, second = screen.state().notes
    assert (first.final, second.function, second.final) == (True, "♭3", False)
    screen.push([GradeWithdrawn(2, 1400)])
    assert [note.id for note in screen.state().notes] == [1]


def test_notes_of_a_chorus_are_let_go_when_the_next_is_over() -> None:
    screen = model()
    screen.push([GradeFinal(1, graded(1, 100), 200), GradeFinal(2, graded(2, 12100, chorus=2), 13000)])
    screen.push([ChorusFinal(1, 14000)])
    assert [note.id for note in screen.state().notes] == [1, 2]
    screen.push([ChorusFinal(2, 26000)])
    assert [note.id for note in screen.state().notes] == [2]


def test_a_note_outside_the_changes_is_named_by_its_pitch() -> None:
    screen = model()
    nothing = {"chorus": None, "bar": None, "beat": None, "chord": None, "function": None, "name": None, "grade": None}
    screen.push([GradeOpened(1, graded(1, -500, **nothing), 0)])
    assert screen.state().notes[0].name == "C♯"  # MIDI 61
    dead = graded(2, -400, **nothing, note=Note(2, -400, -390, None, Gesture.DEAD))
    screen.push([GradeOpened(2, dead, 0)])
    assert screen.state().notes[1].dead


def test_level_words_and_report_stand_until_others_come() -> None:
    screen = model()
    screen.hear(InputLevel(-12.0))
    screen.say("band click")
    screen.report(("Chorus 1", "♭3→3  4 of 6"))
    screen.move(0)
    state = screen.state()
    assert (state.level, state.message, state.report) == (InputLevel(-12.0), "band click", ("Chorus 1", "♭3→3  4 of 6"))
