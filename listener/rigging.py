"""Everything before a live sitting: the rig, mended takes, the latency, cautions and the sound check."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from pathlib import Path

from listener.checking import Checking
from listener.choices import Chosen
from listener.events import Ear
from listener.interrupt import Interrupt
from listener.keeping import Keeper
from listener.keys import Keys
from listener.live import LiveSitting
from listener.plan import Plan
from listener.room.devices import Rig, choose_rig, list_devices
from listener.room.duplex import Latency
from listener.room.inputs import inputs_with_signal
from listener.room.opening import open_rig
from listener.settings import load_settings, save_settings, settings_path
from listener.sitting import Outcome
from listener.storage import data_home
from listener.take import TakeWriter, new_take_folder, repair_takes
from listener.views import View, writes_unicode

CAUTIONS = (
    "Before you play: keep the volume where you can talk over it, and rest your ears; ringing or dull hearing means "
    "stop. Never connect an amplifier's speaker output to an interface. Headphones off the ears, amplifier down, "
    "while the click is tested. Warm up before bends; tingling or pain means stop. See the README."
)


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the player wants of the rig. `takes` is the data folder, None for the usual one."""

    check: bool = False
    skip_check: bool = False
    keep_take: bool = True
    takes: Path | None = None


def chosen_rig(chosen: Mapping[str, Chosen]) -> Rig:
    """The devices that the choices name. DeviceError, or NoDeviceError where there are none."""
    value = {name: choice.value for name, choice in chosen.items()}
    channel = value["channel"]
    return choose_rig(
        list_devices(),
        None if value["device"] is None else str(value["device"]),
        None if value["output"] is None else str(value["output"]),
        None if channel is None else int(channel),
    )


def play_live(
    plan: Plan, chosen: Mapping[str, Chosen], make_ear: Callable[[int], Ear], view: View, wishes: Wishes
) -> Outcome:
    """Open the rig, check the sound where it is new, and play.

    Never hangs: a stream that will not end is left behind, and the outcome says so by `stuck`.
    """
    rig = chosen_rig(chosen)
    home = data_home(wishes.takes)
    for mended in repair_takes(home):
        view.say(f"A take that was left open is whole again: {mended.audio}, {mended.seconds:.0f} s.")
    _caution(view)
    given_ms = chosen["latency"].value
    latency = Latency(given_s=None if given_ms is None else float(given_ms) / 1000)
    duplex, source = open_rig(rig, latency=latency)
    try:
        if duplex.note:
            view.say(duplex.note)
        with Interrupt() as interrupt, Keys() as keys:
            _check_where_new(wishes, Checking(duplex, source, plan.a4_hz, view.say, keys, interrupt, _others(rig)))
            make = partial(_new_take, home, source.rate) if wishes.keep_take else None
            sitting = LiveSitting(
                plan=plan,
                duplex=duplex,
                source=source,
                ear=make_ear(source.rate),
                view=view,
                keys=keys,
                interrupt=interrupt,
                keeper=Keeper(make, view.say),
                rest_minutes=int(chosen["rest"].value or 0),
                ascii_only=not writes_unicode(sys.stdout),
            )
            outcome = sitting.run()
    except BaseException:
        duplex.close()
        raise
    return outcome if duplex.close() else replace(outcome, stuck=True)


def _caution(view: View) -> None:
    """The cautions, once, before the first sound."""
    path = settings_path()
    settings = load_settings(path)
    if not settings.caution_shown:
        view.say(CAUTIONS)
        save_settings(settings.with_caution_shown(), path)


def _check_where_new(wishes: Wishes, checking: Checking) -> None:
    """The sound check, unless these devices have passed it at this rate or the player does not want it."""
    path, rig, rate = settings_path(), checking.duplex.rig, checking.source.rate
    settings = load_settings(path)
    output = None if rig.output is None else rig.output.name
    if wishes.skip_check or (not wishes.check and settings.check_of(rig.input.name, rig.channel, output, rate)):
        return
    checked = checking.run()
    if checked is not None:
        save_settings(settings.with_check(checked), path)


def _others(rig: Rig) -> Callable[[], list[str]]:
    def others() -> list[str]:
        heard = inputs_with_signal(list_devices(), besides=rig.input)
        return [f"{found.device}, channel {found.channel}, {found.peak_db:.0f} dB" for found in heard]

    return others


def _new_take(home: Path, rate: int) -> TakeWriter:
    now = datetime.now().astimezone()
    return TakeWriter(new_take_folder(home, now), rate, {"played": now.isoformat(timespec="seconds")})
