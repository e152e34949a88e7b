"""`bluethird lines`: an exercise over changes, as tab or as JSON."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from listener.choices import BY_NAME
from listener.cli.neck import add_neck_options, board_document, fretboard_of
from listener.errors import Exit

if TYPE_CHECKING:
    from progressions.lines import Line, LineNote

ABOUT = "make an exercise over changes, as tab"
EXAMPLES = """\
examples:
  bluethird lines connection --changes blues --key A
  bluethird lines arpeggios --changes two-five-one --key Bb --zone C
  bluethird lines mixture --changes my-chart.txt --rhythm triplets --seed 7

exercises: arpeggios, connection, guide-tones, blue-thirds, degrees, mixture. The same seed makes the same line.
"""
EXERCISES = ("arpeggios", "connection", "guide-tones", "blue-thirds", "degrees", "mixture")
RHYTHMS = ("eighths", "triplets", "sixteenths")


def add_options(parser: argparse.ArgumentParser) -> None:
    """The arguments of `bluethird lines`."""
    parser.add_argument("exercise", choices=EXERCISES, metavar="EXERCISE")
    parser.add_argument("--changes", default="blues", metavar="NAME|FILE", help=BY_NAME["changes"].about)
    parser.add_argument("--key", metavar="KEY", help=BY_NAME["key"].about)
    parser.add_argument("--zone", metavar="FORM|FRET", help="the hand's zone: C, A, G, E, D of the tonic, or a fret")
    parser.add_argument("--rhythm", choices=RHYTHMS, default=RHYTHMS[0], help="(default: eighths)")
    parser.add_argument("--direction", choices=("up", "down"), help="where the line starts (default: by the seed)")
    parser.add_argument("--seed", type=int, default=0, metavar="N", help="another number makes another line")
    add_neck_options(parser)
    parser.add_argument("--json", action="store_true", help="print JSON")


def lines(options: argparse.Namespace) -> Exit:
    """`bluethird lines`."""
    import sys

    from listener.changes import load_changes
    from listener.cli.results import print_document, write
    from listener.tabview import tab_lines
    from listener.views import writes_unicode
    from progressions.lines import Wish, make_line

    board = fretboard_of(options)
    wish = Wish(options.zone, options.rhythm, options.direction, options.seed)
    line = make_line(options.exercise, load_changes(options.changes, options.key), board, wish)
    if options.json:
        print_document(line_document(line))
    else:
        write(tab_lines(line, ascii_only=not writes_unicode(sys.stdout)))
    return Exit.DONE


def line_document(line: Line) -> dict[str, Any]:
    """The line with every note; beats count from 0, strings from the highest, frets from the capo."""
    return {
        "schema": "bluethird/line/1",
        "exercise": line.exercise,
        "title": line.title,
        "seed": line.seed,
        **board_document(line.board),
        "bars": [float(beat) for beat in line.bar_beats],
        "chords": [
            {
                "beat": float(chord.start_beat),
                "duration": float(chord.end_beat - chord.start_beat),
                "chord": chord.chord.symbol,
                "zone": chord.zone,
            }
            for chord in line.chords
        ],
        "notes": [_note_document(note) for note in line.notes],
    }


def _note_document(note: LineNote) -> dict[str, Any]:
    return {
        "beat": float(note.beat),
        "duration": float(note.duration),
        "midi": note.midi,
        "name": str(note.name),
        "function": note.function,
        "string": note.string,
        "fret": note.fret,
        "finger": note.finger,
    }
