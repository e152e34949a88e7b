"""The sound check with the player: which input, how loud, in tune, how noisy, and does it hear the loudspeaker.

Everything is told through `say`, a sentence at a time; nothing is asked where there is no terminal to answer from.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from listener.interrupt import Interrupt
from listener.keys import Keys
from listener.room.duplex import Duplex, LiveSource
from listener.room.leak import Leak, LeakCheck
from listener.room.soundcheck import Findings, LowString, SoundCheck
from listener.settings import CheckedRig

LOOP_S = 0.02
AHEAD_S = 1.5  # time to damp the strings, and to know the noise that the click has to stand out of
MOST_CENTS = 40.0
SEMITONE_WORDS = {-2: "down a whole tone", -1: "down a semitone", 1: "up a semitone"}

ASK = "Sound check: play the low E and let it ring (Enter skips)."
NEVER_PLAYED_BACK = "You hear your guitar from your amplifier or interface; this program never plays it back."
REASONS = (
    "Usual reasons: the guitar's volume or the cable, the input muted in the system's sound settings, "
    "no permission for this program to use the microphone, or another input chosen (--device, --channel)."
)


@dataclass(slots=True)
class Checking:
    """One sound check on a running stream. `other_inputs` names the other inputs that carry signal, in words."""

    duplex: Duplex
    source: LiveSource
    a4_hz: float
    say: Callable[[str], None]
    keys: Keys
    interrupt: Interrupt
    other_inputs: Callable[[], list[str]]

    def run(self) -> CheckedRig | None:
        """What was found, to be remembered; None where the player skipped or ended it. DeviceError as the stream."""
        self.say(NEVER_PLAYED_BACK)
        self.say(ASK)
        findings = self._hear_low_e()
        if findings is None or findings.low_string is None:
            return None
        self.say(self._found(findings, findings.low_string))
        leak = self._click()
        rig = self.duplex.rig
        return CheckedRig(
            input=rig.input.name,
            channel=rig.channel,
            output=None if rig.output is None else rig.output.name,
            rate=self.source.rate,
            peak_db=round(findings.peak_db, 1),
            noise_db=round(findings.noise_db, 1),
            low_e_cents=round(findings.low_string.cents, 1),
            hears_output=leak is not None,
        )

    def _hear_low_e(self) -> Findings | None:
        check, asked, warned = SoundCheck(self.source.rate, self.a4_hz), None, False
        while not self.interrupt.asked and not self.keys.enter_pressed():
            for block in self.source.read_available():
                check.push(block)
            self.duplex.check()
            findings = check.findings()
            heard = findings.low_string
            if heard is not None and heard.is_low_e and abs(heard.cents) <= MOST_CENTS:
                return findings
            if heard is not None and heard.semitones != asked:
                asked = heard.semitones
                self.say(self._off(heard))
            if findings.hears_nothing and not warned:
                warned = True
                self.say(self._nothing(findings))
            time.sleep(LOOP_S)
        return None

    def _found(self, findings: Findings, heard: LowString) -> str:
        rig, level = self.duplex.rig, ""
        if findings.is_too_loud:
            level = ", too loud: turn the input down"
        elif findings.is_too_quiet:
            level = ", quiet: turn the input up"
        return (
            f"Input {rig.input.name}, channel {rig.channel}: peak {findings.peak_db:.0f} dB of full scale{level}, "
            f"noise {findings.noise_db:.0f} dB, low E {heard.hz:.1f} Hz, {heard.cents:+.0f} cents."
        )

    def _off(self, heard: LowString) -> str:
        if heard.may_be_tuned_off:
            words, a4 = SEMITONE_WORDS[heard.semitones], self.a4_hz * 2 ** (heard.semitones / 12)
            sure = f"If you mean it, end this and use --a4 {a4:.1f}; if not," if 415 <= a4 <= 466 else "If not,"
            return f"The string is at {heard.hz:.1f} Hz: tuned {words}? {sure} tune and play the low E again."
        return f"That string is at {heard.hz:.1f} Hz; the low E is wanted."

    def _nothing(self, findings: Findings) -> str:
        rig = self.duplex.rig
        what = "delivers only zeros" if findings.all_zero_s >= findings.silent_s else "is silent"
        others = self.other_inputs()
        carry = f"Signal is on: {'; '.join(others)}." if others else "No other input carries signal either."
        return f"The input {rig.input.name}, channel {rig.channel}, {what}. {carry} {REASONS}"

    def _click(self) -> Leak | None:
        """One quiet click; whether the input hears it is told."""
        player = self.duplex.player
        if player is None:
            return None
        self.say("Damp the strings: one quiet click follows.")
        check = LeakCheck(player.soonest + round(AHEAD_S * self.source.rate), self.source.rate)
        player.play(check.render, quiet_start=False)
        while not check.is_over and not self.interrupt.asked:
            for block in self.source.read_available():
                check.push(block)
            player.pump()
            self.duplex.check()
            time.sleep(LOOP_S)
        player.play(None)
        leak = check.leak()
        if leak is None:
            self.say("The input does not hear the click: good.")
        else:
            self.say(
                f"The input hears the click ({leak.level_db:.0f} dB): use headphones, or the band's notes will be "
                "taken for yours."
            )
        return leak
