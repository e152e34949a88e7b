"""What several tests share: the virtual sound card."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("virtual_sound.sh")
PROGRAMS = ("pipewire", "wireplumber", "pw-cat", "pw-link", "pw-loopback", "dbus-daemon")
PACKAGES = "libportaudio2 pipewire pipewire-bin pipewire-alsa wireplumber dbus"
REQUIRE_VARIABLE = "BLUETHIRD_REQUIRE_SOUND"
CARD_RATE = 48000
CARD_QUANTUM = 256


@dataclass(frozen=True, slots=True)
class SoundCard:
    """A running virtual card. `environment` is what a program needs to find it instead of the machine's own sound."""

    folder: Path
    rate: int
    environment: dict[str, str]
    device: str = "test_card"

    def act(self, action: str, *arguments: object, timeout: float = 20.0) -> None:
        """Run one action of the script to its end."""
        command = ["bash", str(SCRIPT), action, str(self.folder), *map(str, arguments)]
        done = subprocess.run(command, stderr=subprocess.PIPE, text=True, timeout=timeout, check=False)
        assert done.returncode == 0, done.stderr

    def playing(self, path: Path) -> subprocess.Popen[bytes]:
        """Start to play a file into the guitar cable; the process ends with the file."""
        return subprocess.Popen(["bash", str(SCRIPT), "play", str(self.folder), str(path)])

    def program(self, *arguments: str, **more: str) -> subprocess.Popen[str]:
        """Start this Python with the card as its only sound; output is text through pipes."""
        environment = {**os.environ, **self.environment, **more}
        pipe = subprocess.PIPE
        return subprocess.Popen([sys.executable, *arguments], env=environment, stdout=pipe, stderr=pipe, text=True)


@pytest.fixture(scope="session")
def _card_folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    missing = [program for program in PROGRAMS if shutil.which(program) is None]
    if missing:
        reason = f"no virtual sound card without {', '.join(missing)} (Debian: {PACKAGES})"
        if os.environ.get(REQUIRE_VARIABLE) == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    folder = tmp_path_factory.mktemp("card")
    yield folder
    subprocess.run(["bash", str(SCRIPT), "down", str(folder)], check=True, timeout=20)


@pytest.fixture
def sound_card(_card_folder: Path, monkeypatch: pytest.MonkeyPatch) -> SoundCard:
    """The card, up and with its cable plugged in and no loop; this process sees it too.

    Skipped with its reason where PipeWire is absent, unless BLUETHIRD_REQUIRE_SOUND=1: then that is a failure.
    """
    environment = {
        "PIPEWIRE_RUNTIME_DIR": str(_card_folder),
        "ALSA_CONFIG_PATH": str(_card_folder / "asound.conf"),
    }
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    card = SoundCard(_card_folder, CARD_RATE, environment)
    card.act("up", CARD_RATE, CARD_QUANTUM)
    card.act("loop", "off")
    card.act("cable", "in")
    return card
