"""What each command does with its options: look up, hand on, print, and choose the exit code."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path

from listener.builtin import builtin_take
from listener.changes import make_plan
from listener.choices import Chosen, choose
from listener.cli import results
from listener.cli.charts import chart
from listener.cli.completion import completion_script
from listener.cli.lines import lines
from listener.cli.neck import neck
from listener.ear.kinds import HEARS_LIVE, make_ear
from listener.ear.stream import HIGHEST_RATE, LOWEST_RATE
from listener.errors import Exit, InputFileError, ListenerError, NoDeviceError, UsageError
from listener.events import Ear
from listener.hearing import Hearing
from listener.interrupt import Interrupt
from listener.prelude import listen_ahead
from listener.replay import event_line, header_line
from listener.rigging import Wishes, play_live
from listener.settings import load_settings, settings_path
from listener.sitting import Outcome, play_recording
from listener.sources.files import FileSource
from listener.views import DocumentView, EventsView, LinesView, ScreenView, View, is_screen, writes_unicode

HOW_TO_PLAY = (
    "This was the built-in take. To play yourself: plug in the guitar, tune, run `bluethird play`, "
    "and strike the damped strings three times."
)


def choices_of(options: argparse.Namespace) -> dict[str, Chosen]:
    """The player's choices by option, environment, settings file and default."""
    path = settings_path()
    return choose(vars(options), os.environ, load_settings(path).choices, str(path))


def view_of(options: argparse.Namespace) -> View:
    """Where this sitting is shown."""
    if options.json and options.events:
        raise UsageError("--json and --events both want standard output; choose one")
    if options.events:
        return EventsView()
    if options.json:
        return DocumentView()
    return ScreenView() if is_screen(sys.stdout) else LinesView()


def play(options: argparse.Namespace) -> Exit:
    """`bluethird play`."""
    chosen, view = choices_of(options), view_of(options)
    if options.recording is None:
        for name in ("start", "offset", "fast"):
            if getattr(options, name):
                raise UsageError(f"--{name} goes with --from FILE")
        return _play_live(options, chosen, view)
    source = open_recording(options, chosen)
    warn_of_signal(source, view)
    return _finish(options, view, _recorded(chosen, source, options, view, options.start))


def _play_live(options: argparse.Namespace, chosen: dict[str, Chosen], view: View) -> Exit:
    if chosen["ear"].value not in HEARS_LIVE:
        raise UsageError(f"the ear {chosen['ear'].value} hears whole recordings only; it goes with --from FILE")
    plan = make_plan(chosen)
    wishes = Wishes(
        check=options.check,
        skip_check=options.skip_check,
        keep_take=not options.no_take,
        takes=None if options.takes is None else Path(options.takes),
    )
    try:
        outcome = play_live(plan, chosen, partial(_ear, chosen), view, wishes)
    except NoDeviceError as fault:
        if chosen["device"].value or chosen["output"].value:
            raise
        view.say(f"{fault}. Here is the built-in take instead.")
        return _play_builtin(options, str(chosen["ear"].value), view)
    code = _finish(options, view, outcome)
    if outcome.take is not None:
        view.say(f"Take: {outcome.take}")
    if outcome.stuck:
        view.say("The sound server does not answer; leaving without it.")
        sys.stdout.flush()
        os._exit(int(code or Exit.SOUND_DEVICE))
    return code


def _play_builtin(options: argparse.Namespace, ear: str, view: View) -> Exit:
    take = builtin_take()
    fixed = {"changes": take.form, "key": take.key, "tempo": str(take.tempo_bpm), "swing": str(take.swing)}
    chosen = choose({**fixed, "choruses": "1", "ear": ear}, {}, {}, "")
    outcome = _recorded(chosen, FileSource(take.path), options, view, take.start_s)
    code = _finish(options, view, outcome)
    print(HOW_TO_PLAY, file=sys.stderr if options.json or options.events else sys.stdout)
    return code


def _recorded(
    chosen: dict[str, Chosen],
    source: FileSource,
    options: argparse.Namespace,
    view: View,
    start_s: float | None,
) -> Outcome:
    plan = make_plan(chosen)
    if start_s is not None and start_s < 0:
        raise UsageError(f"--start is {start_s:g}; expected seconds from the start of the file, 0 or more")
    if start_s is not None and start_s >= source.seconds:
        raise UsageError(f"--start is {start_s:g}, beyond the end of the recording at {source.seconds:.1f} s")
    new_ear = partial(_ear, chosen, source.rate)
    with Interrupt() as interrupt:
        return play_recording(
            plan,
            source,
            new_ear,
            view,
            interrupt,
            start_s=start_s,
            offset_cents=options.offset,
            fast=options.fast,
            ascii_only=not writes_unicode(sys.stdout),
        )


def _ear(chosen: dict[str, Chosen], rate: int) -> Ear:
    return make_ear(str(chosen["ear"].value), rate, float(chosen["a4"].value or 440.0))


def _finish(options: argparse.Namespace, view: View, outcome: Outcome) -> Exit:
    view.close(outcome.course.reports)
    if options.json:
        results.print_document(results.outcome_document(outcome))
    if outcome.fault is not None:
        print(f"bluethird: {outcome.fault}", file=sys.stderr)
        return outcome.fault.exit_code
    if not options.json and not options.events:
        view.say(f"{outcome.ending[0].upper()}{outcome.ending[1:]}.")
    return Exit.DONE


def open_recording(options: argparse.Namespace, chosen: dict[str, Chosen]) -> FileSource:
    """The recording named, checked; InputFileError also for a rate that no ear of ours hears."""
    source = FileSource(options.recording, _channel(chosen))
    if not LOWEST_RATE <= source.rate <= HIGHEST_RATE:
        raise InputFileError(
            f"{source.path} has a sample rate of {source.rate} Hz; {LOWEST_RATE} to {HIGHEST_RATE} Hz can be heard"
        )
    return source


def warn_of_signal(source: FileSource, view: View) -> None:
    """A recording that is silent or clipped is heard all the same, and the player is told."""
    if source.signal.is_silent:
        view.say(f"{source.path} is silent: no sample reaches -66 dB of full scale")
    elif source.signal.is_clipped:
        view.say(f"{source.path} is clipped: {100 * source.signal.clipped_share:.1f} % of its samples are cut off")


def notes(options: argparse.Namespace) -> Exit:
    """`bluethird notes`."""
    chosen = choices_of(options)
    a4_hz = float(chosen["a4"].value or 440.0)
    source = open_recording(options, chosen)
    new_ear = partial(_ear, chosen, source.rate)
    offset = options.offset if options.offset is not None else listen_ahead(source, new_ear).offset_cents
    hearing, fault = Hearing(new_ear(), source.rate, offset or 0.0), None
    tell: Callable[[list[str]], None] = results.write if options.events else lambda lines: None
    tell([header_line(source.rate)])
    try:
        for block in source.blocks():
            tell([event_line(event) for event in hearing.push(block)])
    except ListenerError as error:
        fault = error
    tell([event_line(event) for event in hearing.finish()])
    if options.json:
        results.print_document(results.notes_document(hearing, a4_hz))
    elif not options.events:
        results.write(results.notes_table(list(hearing.notes.values()), source.rate))
    if fault is not None:
        print(f"bluethird: {fault}", file=sys.stderr)
        return fault.exit_code
    return Exit.DONE


def devices(options: argparse.Namespace) -> Exit:
    """`bluethird devices`."""
    from listener.room.devices import list_devices

    found = list_devices()
    if options.json:
        results.print_document(results.devices_document(found))
    elif not found:
        raise NoDeviceError("there is no sound device on this machine; another program may hold it")
    else:
        results.write(results.devices_table(found))
    return Exit.DONE


def settings(options: argparse.Namespace) -> Exit:
    """`bluethird settings`."""
    path = settings_path()
    chosen = choose({}, os.environ, load_settings(path).choices, str(path))
    if options.json:
        results.print_document(results.settings_document(chosen, path))
    else:
        results.write(results.settings_table(chosen, path))
    return Exit.DONE


def completion(options: argparse.Namespace) -> Exit:
    """`bluethird completion`."""
    results.write([completion_script(options.shell)])
    return Exit.DONE


def _channel(chosen: dict[str, Chosen]) -> int | None:
    channel = chosen["channel"].value
    return None if channel is None else int(channel)


COMMANDS: dict[str, Callable[[argparse.Namespace], Exit]] = {
    "play": play,
    "notes": notes,
    "chart": chart,
    "neck": neck,
    "lines": lines,
    "devices": devices,
    "settings": settings,
    "completion": completion,
}
