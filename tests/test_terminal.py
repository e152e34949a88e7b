"""The dashboard on a real terminal: tmux shows what a player would see."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from listener.builtin import builtin_take
from listener.glyphs import full_rows

pytestmark = pytest.mark.terminal
TAKE = builtin_take()
PLAY = f"play --from {TAKE.path} --start {TAKE.start_s} --choruses 1"


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Callable[[int, int, str], Callable[[], list[str]]]]:
    """Start the command on a terminal of a size; what comes back captures its screen."""
    if shutil.which("tmux") is None:
        if os.environ.get("BLUETHIRD_REQUIRE_SOUND") == "1":
            pytest.fail("tmux is missing")
        pytest.skip("tmux is missing")
    socket = ["tmux", "-L", tmp_path.name, "-f", "/dev/null"]

    def start(width: int, height: int, variables: str) -> Callable[[], list[str]]:
        program = f'"{sys.executable}" -c "import sys; from listener.cli import main; sys.exit(main())"'
        command = f"LANG=C.UTF-8 PYTHONUTF8=1 BLUETHIRD_CONFIG_HOME={tmp_path} {variables} {program} {PLAY}; sleep 60"
        size = ["-x", str(width), "-y", str(height)]
        subprocess.run([*socket, "-u", "new-session", "-d", "-s", "play", *size, command], check=True)

        def screen() -> list[str]:
            shown = subprocess.run([*socket, "capture-pane", "-p", "-t", "play"], check=True, capture_output=True)
            return shown.stdout.decode().splitlines()

        return screen

    yield start
    subprocess.run([*socket, "kill-server"], check=False, capture_output=True)


def wait_for(screen: Callable[[], list[str]], words: str, seconds: float = 60.0) -> list[str]:
    """The first screen that holds `words`."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        lines = screen()
        if any(words in line for line in lines):
            return lines
        time.sleep(0.1)
    raise AssertionError("\n".join(screen()))


@pytest.mark.parametrize(("width", "height"), [(80, 24), (120, 40)])
def test_the_screen_shows_chord_next_chord_place_note_grade_and_level(
    terminal: Callable[[int, int, str], Callable[[], list[str]]], width: int, height: int
) -> None:
    screen = terminal(width, height, "")
    lines = wait_for(screen, "♭3↑")
    text = "\n".join(lines)
    assert len(lines) <= height
    assert all(len(line) <= width for line in lines)
    for words in ("chorus 1 of 1", "of 12", "beat", "key A", "next", "dB", "♭3"):
        assert words in text, words
    if (width, height) == (80, 24):
        for row in full_rows("A7"):  # the chord of the moment in block cells, five rows high
            assert row.rstrip() in text


def test_reports_and_summary_stay_on_the_screen_when_the_sitting_is_over(
    terminal: Callable[[int, int, str], Callable[[], list[str]]], tmp_path: Path
) -> None:
    screen = terminal(80, 60, "")
    wait_for(screen, "♭3↑")
    subprocess.run(["tmux", "-L", tmp_path.name, "send-keys", "-t", "play", "C-c"], check=True)
    text = "\n".join(wait_for(screen, "Phrases"))
    for words in ("Chorus 1, partial", "♭3→3", "next:", "Grades of", "Stopped."):
        assert words in text, words


def test_without_colour_the_screen_sends_no_colour(
    terminal: Callable[[int, int, str], Callable[[], list[str]]], tmp_path: Path
) -> None:
    screen = terminal(80, 24, "NO_COLOR=1")
    wait_for(screen, "♭3↑")
    raw = subprocess.run(
        ["tmux", "-L", tmp_path.name, "capture-pane", "-e", "-p", "-t", "play"], check=True, capture_output=True
    ).stdout.decode()
    assert "\x1b[38" not in raw
    assert "\x1b[48" not in raw


def test_an_output_that_is_no_terminal_gets_neither_cursor_codes_nor_colour(tmp_path: Path) -> None:
    program = [sys.executable, "-c", "import sys; from listener.cli import main; sys.exit(main())", *PLAY.split()]
    where = {**os.environ, "BLUETHIRD_CONFIG_HOME": str(tmp_path), "PYTHONIOENCODING": "ascii"}
    done = subprocess.run([*program, "--fast"], env=where, check=True, capture_output=True)
    assert b"\x1b" not in done.stdout
    assert b"Chorus 1" in done.stdout
    done.stdout.decode("ascii")  # ASCII where the encoding is not UTF-8
