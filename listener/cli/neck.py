"""`bluethird neck`: a chord's arpeggio on the neck, as a drawing in the terminal, as SVG or as JSON."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from listener.errors import Exit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from listener.neckview import NeckLook
    from progressions.neck import Fretboard, FrettedNote, Zone

ABOUT = "show a chord's arpeggio on the neck, in five zones with the chord shape beneath each"
EXAMPLES = """\
examples:
  bluethird neck G7
  bluethird neck Bbm7b5 --zone A --show fingers
  bluethird neck A7 --tuning "drop D" --capo 2 --svg a7.svg
"""
SHOWN = ("degrees", "notes", "fingers")


def add_neck_options(parser: argparse.ArgumentParser) -> None:
    """The options of the fretboard, which exercises share."""
    parser.add_argument("--tuning", metavar="NAME|NOTES", help='such as "drop D" or "D A D G A D" (default: standard)')
    parser.add_argument("--capo", type=int, default=0, metavar="FRET", help="capo; frets count from it (default: none)")
    parser.add_argument("--frets", type=int, default=22, metavar="N", help="frets of the neck (default: 22)")


def add_options(parser: argparse.ArgumentParser) -> None:
    """The arguments of `bluethird neck`."""
    parser.add_argument("chord", metavar="CHORD")
    parser.add_argument("--zone", metavar="FORM|FRET", help="one zone: C, A, G, E, D or its lowest fret (default: all)")
    parser.add_argument("--show", choices=SHOWN, default=SHOWN[0], help="what is written on the notes")
    add_neck_options(parser)
    parser.add_argument("--left", action="store_true", help="as a left-handed player sees it")
    parser.add_argument("--svg", metavar="FILE", help="write a page to print")
    parser.add_argument("--force", action="store_true", help="replace the file")
    parser.add_argument("--json", action="store_true", help="print JSON")


def fretboard_of(options: argparse.Namespace) -> Fretboard:
    """The neck that the options describe. ProgressionsError where there is none such."""
    from progressions.neck import Fretboard, parse_tuning, standard_tuning

    tuning = standard_tuning() if options.tuning is None else parse_tuning(options.tuning)
    return Fretboard(tuning, options.frets, options.capo)


def neck(options: argparse.Namespace) -> Exit:
    """`bluethird neck`."""
    from listener.cli.results import print_document
    from listener.neckview import NeckLook
    from progressions.chords import parse_chord
    from progressions.neck import zone_at, zones

    chord, board = parse_chord(options.chord), fretboard_of(options)
    shown = zones(chord, board) if options.zone is None else (zone_at(chord, board, options.zone),)
    if options.svg is not None:
        _write_svg(options, shown, board, NeckLook(options.show, options.left))
    if options.json:
        print_document(neck_document(shown, board))
    elif options.svg is None:
        _print(shown, board, options)
    return Exit.DONE


def _print(shown: Sequence[Zone], board: Fretboard, options: argparse.Namespace) -> None:
    import sys

    from rich.console import Console

    from listener.neckview import NeckLook, page_frame, zone_frame
    from listener.views import writes_unicode

    console = Console(highlight=False)
    colour = console.color_system is not None and not console.no_color
    look = NeckLook(options.show, options.left, not writes_unicode(sys.stdout), colour)
    frame = zone_frame(shown[0], board, look) if len(shown) == 1 else page_frame(shown, board, look)
    if colour:
        console.print(frame)
    else:
        print("\n".join(line.rstrip() for line in frame.lines))


def _write_svg(options: argparse.Namespace, shown: Sequence[Zone], board: Fretboard, look: NeckLook) -> None:
    import sys
    from pathlib import Path

    from listener.errors import StorageError, UsageError
    from listener.necksvg import neck_svg

    path = Path(options.svg).expanduser()
    try:
        with path.open("w" if options.force else "x", encoding="utf-8") as file:
            file.write(neck_svg(shown, board, look))
    except FileExistsError:
        raise UsageError(f"{path} is there already; --force replaces it") from None
    except OSError as error:
        raise StorageError(f"{path} cannot be written: {error.strerror or error}") from error
    print(f"Page: {path}", file=sys.stderr)


def neck_document(shown: Sequence[Zone], board: Fretboard) -> dict[str, Any]:
    """The zones with every note; strings count from the highest, frets from the capo."""
    from progressions.neck import forms_without_room

    return {
        "schema": "bluethird/neck/1",
        "chord": shown[0].chord.symbol,
        "tones": [{"function": tone.function, "name": str(tone.pitch)} for tone in shown[0].chord.tones],
        **board_document(board),
        "no_room": list(forms_without_room(tuple(shown), board)) if len(shown) > 1 else [],
        "zones": [_zone_document(zone) for zone in shown],
    }


def board_document(board: Fretboard) -> dict[str, Any]:
    """Tuning, capo and frets."""
    from progressions.neck import format_tuning

    strings = [str(string) for string in board.tuning.strings]
    return {"tuning": format_tuning(board.tuning), "strings": strings, "capo": board.capo, "frets": board.frets}


def _zone_document(zone: Zone) -> dict[str, Any]:
    return {
        "form": zone.form or None,
        "frets": [zone.lowest_fret, zone.highest_fret],
        "used_frets": list(zone.used_frets),
        "root": note_document(zone.root),
        "notes": [note_document(note) for note in zone.notes],
        "flat_thirds": [note_document(note) for note in zone.flat_thirds],
        "shape": [note_document(note) for note in zone.shape.notes],
        "shape_leaves_out": list(zone.shape.left_out),
        "gaps": [
            {"midi": gap.midi, "function": gap.function, "name": str(gap.name), "below_string": gap.below_string}
            for gap in zone.gaps
        ],
    }


def note_document(note: FrettedNote) -> dict[str, Any]:
    """One note at its place."""
    return {
        "string": note.string,
        "fret": note.fret,
        "midi": note.midi,
        "function": note.function,
        "name": str(note.name),
        "finger": note.finger,
    }
