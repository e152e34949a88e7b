"""The command line: every command, option and example, and nothing that is slow to import."""

from __future__ import annotations

import argparse

from listener.choices import BY_NAME
from listener.cli import charts, lines, neck

EXAMPLES = """\
examples:
  bluethird play                                   twelve-bar blues in A, 80 bpm
  bluethird play --changes two-five-one --key Bb --tempo 120
  bluethird play --from take.wav --start 6 --fast
  bluethird notes take.wav --json
"""
PLAY_EXAMPLES = """\
examples:
  bluethird play
  bluethird play --changes my-chart.txt --choruses 8
  bluethird play --device 3 --channel 2
  bluethird play --from take.wav --start 6 --fast --json

You hear your guitar from your amplifier or interface; this program never plays it back.
"""
NOTES_EXAMPLES = """\
examples:
  bluethird notes take.wav
  bluethird notes take.flac --json
"""
DEVICES_EXAMPLES = """\
examples:
  bluethird devices
  bluethird devices --json
"""
SETTINGS_EXAMPLES = """\
examples:
  bluethird settings
  BLUETHIRD_A4=442 bluethird settings --json
"""
COMPLETION_EXAMPLES = """\
examples:
  bluethird completion bash >> ~/.bashrc
  bluethird completion fish > ~/.config/fish/completions/bluethird.fish
"""
SHELLS = ("bash", "zsh", "fish")


def _choice(parser: argparse._ActionsContainer, name: str, metavar: str) -> None:
    parser.add_argument(f"--{name}", metavar=metavar, help=BY_NAME[name].about)


def _command(
    commands: argparse._SubParsersAction[argparse.ArgumentParser], name: str, about: str, examples: str
) -> argparse.ArgumentParser:
    # the examples stand before the options: they are what most readers came for
    return commands.add_parser(
        name,
        help=about,
        description=f"{about[0].upper()}{about[1:]}.\n\n{examples}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )


def build_parser() -> argparse.ArgumentParser:
    """The parser of the whole command."""
    from listener.version import VERSION

    parser = argparse.ArgumentParser(
        prog="bluethird",
        description=f"Listens to an improvised guitar line and tells how it spells the changes.\n\n{EXAMPLES}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"bluethird {VERSION}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    _play(_command(commands, "play", "play over changes and see each note graded", PLAY_EXAMPLES))
    _notes(_command(commands, "notes", "tell the notes heard in a recording", NOTES_EXAMPLES))
    charts.add_options(_command(commands, "chart", charts.ABOUT, charts.EXAMPLES))
    neck.add_options(_command(commands, "neck", neck.ABOUT, neck.EXAMPLES))
    lines.add_options(_command(commands, "lines", lines.ABOUT, lines.EXAMPLES))
    devices = _command(commands, "devices", "list the sound inputs and outputs", DEVICES_EXAMPLES)
    devices.add_argument("--json", action="store_true", help="print JSON")
    settings = _command(commands, "settings", "show every setting and where its value came from", SETTINGS_EXAMPLES)
    settings.add_argument("--json", action="store_true", help="print JSON")
    completion = _command(commands, "completion", "print a completion script for a shell", COMPLETION_EXAMPLES)
    completion.add_argument("shell", choices=SHELLS)
    return parser


def _play(play: argparse.ArgumentParser) -> None:
    music = play.add_argument_group("music")
    _choice(music, "changes", "NAME|FILE")
    for name, metavar in (("key", "KEY"), ("tempo", "BPM"), ("swing", "RATIO"), ("choruses", "N"), ("a4", "HZ")):
        _choice(music, name, metavar)
    music.add_argument("--colour", nargs="?", const="yes", metavar="yes|no", help=BY_NAME["colour"].about)
    sound = play.add_argument_group("sound")
    for name, metavar in (("device", "DEVICE"), ("output", "DEVICE"), ("channel", "N"), ("latency", "MS")):
        _choice(sound, name, metavar)
    sound.add_argument("--skip-check", action="store_true", help="leave out the sound check")
    sound.add_argument("--check", action="store_true", help="do the sound check again")
    _choice(sound, "rest", "MIN")
    _choice(sound, "ear", "NAME")
    recording = play.add_argument_group("a recording in place of the guitar")
    recording.add_argument("--from", dest="recording", metavar="FILE", help="grade this recording")
    recording.add_argument(
        "--start", type=float, metavar="SECONDS", help="first beat (default: after three muted strokes, else 0)"
    )
    recording.add_argument("--offset", type=float, metavar="CENTS", help="how sharp the whole guitar is, if known")
    recording.add_argument("--fast", action="store_true", help="as fast as the machine can, not in real time")
    results = play.add_argument_group("results")
    results.add_argument("--json", action="store_true", help="print one JSON document at the end")
    results.add_argument("--events", action="store_true", help="print each event as a JSON line as it comes")
    results.add_argument("--takes", metavar="FOLDER", help="where takes are kept (default: the user's data folder)")
    results.add_argument("--no-take", action="store_true", help="keep no recording")


def _notes(notes: argparse.ArgumentParser) -> None:
    notes.add_argument("recording", metavar="FILE")
    _choice(notes, "a4", "HZ")
    _choice(notes, "channel", "N")
    _choice(notes, "ear", "NAME")
    notes.add_argument("--offset", type=float, metavar="CENTS", help="how sharp the whole guitar is, if known")
    notes.add_argument("--json", action="store_true", help="print one JSON document")
    notes.add_argument("--events", action="store_true", help="print each event as a JSON line as it comes")
