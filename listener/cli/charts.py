"""`bluethird chart`: shows any chart as the tool understood it, in any key, as symbols or degrees, or writes it out."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from listener.choices import BY_NAME
from listener.errors import Exit, UsageError

if TYPE_CHECKING:
    from progressions.chart import Chart

ABOUT = "show a form or a chart file as it is understood"
EXAMPLES = """\
examples:
  bluethird chart jazz-blues --key Eb
  bluethird chart my-chart.txt --unroll
  bluethird chart my-chart.txt --degrees --text > my-chart-in-degrees.txt
  bluethird chart my-chart.txt --musicxml > my-chart.musicxml
"""


def add_options(chart: argparse.ArgumentParser) -> None:
    """The options of the command."""
    chart.add_argument("changes", metavar="NAME|FILE", help=BY_NAME["changes"].about)
    chart.add_argument("--key", metavar="KEY", help="show it in this key")
    chart.add_argument("--tempo", metavar="BPM", help="the tempo of a file that tells seconds alone")
    chart.add_argument("--degrees", action="store_true", help="degrees for symbols, functions for tones")
    chart.add_argument("--unroll", action="store_true", help="bars as they are played, repeats written out")
    output = chart.add_mutually_exclusive_group()
    output.add_argument("--text", action="store_true", help="print the text of the chart, to keep as a file")
    output.add_argument("--musicxml", action="store_true", help="print MusicXML")
    output.add_argument("--json", action="store_true", help="print JSON")


def chart(options: argparse.Namespace) -> Exit:
    """`bluethird chart`."""
    from listener.changes import load_changes
    from listener.chartview import ascii_chart, chart_document, chart_lines
    from listener.choices import choose
    from listener.cli import results
    from listener.views import writes_unicode

    if options.unroll and (options.text or options.musicxml or options.json):
        raise UsageError(
            "--unroll is for the page: text and MusicXML keep repeats as written, JSON tells bars as played"
        )
    if options.degrees and (options.musicxml or options.json):
        raise UsageError("--degrees is for the page and --text")
    tempo = choose({"tempo": options.tempo}, {}, {}, "")["tempo"].value
    found = load_changes(options.changes, options.key, None if tempo is None else float(tempo))
    plain = not writes_unicode(sys.stdout)
    if options.json:
        results.print_document(chart_document(found))
    elif options.musicxml:
        _print_musicxml(found)
    elif options.text:
        text = _text(found, options.degrees)
        results.write((ascii_chart(text) if plain else text).splitlines())
    else:
        results.write(chart_lines(found, degrees=options.degrees, unrolled=options.unroll, ascii_only=plain))
    return Exit.DONE


def _text(chart: Chart, degrees: bool) -> str:
    from progressions.chart import write_chart, write_degrees

    return (write_degrees if degrees else write_chart)(chart)


def _print_musicxml(chart: Chart) -> None:
    """UTF-8, as the document says of itself, whatever the terminal's encoding."""
    from progressions.exchange.musicxml import write

    sys.stdout.flush()
    sys.stdout.buffer.write(write(chart).encode("utf-8"))
    sys.stdout.buffer.flush()
