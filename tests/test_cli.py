"""The command as a player meets it: exit codes, one clear sentence, documents, and a README that is true."""

from __future__ import annotations

import json
import re
import shlex
import subprocess
import sys
from itertools import takewhile
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from listener.builtin import builtin_take
from listener.cli import main
from listener.cli.arguments import build_parser
from listener.errors import Exit

README = Path(__file__).parents[1] / "README.md"
TAKE = builtin_take()
RATE = 44100


@pytest.fixture(autouse=True)
def _own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BLUETHIRD_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("BLUETHIRD_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)


def sound(path: str, samples: np.ndarray, rate: int = RATE, subtype: str = "PCM_16") -> str:
    sf.write(path, samples, rate, subtype=subtype)
    return path


def tone(seconds: float, rate: int = RATE, hz: float = 220.0) -> np.ndarray:
    """A plucked A3 (ISO 16: 220 Hz)."""
    at = np.arange(round(seconds * rate)) / rate
    return 0.5 * np.exp(-2 * at) * sum(np.sin(2 * np.pi * hz * k * at) / k for k in range(1, 6))


def write(path: str, data: bytes) -> str:
    Path(path).write_bytes(data)
    return path


def truncated() -> str:
    whole = Path(sound("whole.wav", tone(4.0))).read_bytes()
    return write("cut.wav", whole[: len(whole) // 2])


BAD_RECORDINGS = {
    "missing": (lambda: "nothing.wav", "no file"),
    "a folder": (lambda: str(Path.cwd()), "is a folder"),
    "empty": (lambda: write("empty.wav", b""), "empty"),
    "not audio": (lambda: write("words.wav", b"these are words, no samples\n" * 50), "no recording"),
    "no frames": (lambda: sound("none.wav", np.zeros(0)), "no sound"),
    "one sample": (lambda: sound("one.wav", np.zeros(1)), "too short"),
    "not a number": (lambda: sound("nan.wav", np.full(RATE, np.nan), subtype="FLOAT"), "no number"),
    "cut off": (truncated, "cut off"),
    "too slow a rate": (lambda: sound("slow.wav", tone(1.0, 4000), 4000), "4000 Hz"),
}


@pytest.mark.parametrize("name", BAD_RECORDINGS)
@pytest.mark.parametrize("command", ["play", "notes"])
def test_a_bad_recording_gets_one_sentence_and_code_4(
    name: str, command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    make, words = BAD_RECORDINGS[name]
    where = ["notes", make()] if command == "notes" else ["play", "--from", make(), "--fast"]
    assert main(where) == Exit.BAD_INPUT
    complaint = [line for line in capsys.readouterr().err.splitlines() if line.startswith("bluethird: ")]
    assert len(complaint) == 1
    assert words in complaint[0]


def test_what_was_heard_before_the_end_of_a_cut_off_recording_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["notes", truncated(), "--json"]) == Exit.BAD_INPUT
    notes = json.loads(capsys.readouterr().out)["notes"]
    assert [round(note["pitch_midi"]) for note in notes] == [57]  # A3 is MIDI 57 (MIDI 1.0: A4 is 69)


@pytest.mark.parametrize(
    ("samples", "rate", "subtype"), [(tone(1.5), RATE, "PCM_U8"), (tone(1.5, 192_000), 192_000, "PCM_24")]
)
def test_eight_bits_and_192_khz_are_heard(
    samples: np.ndarray, rate: int, subtype: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["notes", sound("a.wav", samples, rate, subtype), "--json"]) == Exit.DONE
    assert [round(note["pitch_midi"]) for note in json.loads(capsys.readouterr().out)["notes"]] == [57]


@pytest.mark.parametrize(
    ("samples", "words"), [(np.zeros(RATE), "is silent"), (np.clip(8 * tone(1.5), -1, 1), "is clipped")]
)
def test_a_silent_or_clipped_recording_is_heard_and_the_player_is_told(
    samples: np.ndarray, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["play", "--from", sound("odd.wav", samples), "--fast"]) == Exit.DONE
    assert words in capsys.readouterr().err


BAD_CHARTS = {
    "unknown chord": ("key: A\n| A7 | H7 |\n", "line 2, column 8"),
    "empty": ("", "expected"),
    "meter": ("key: A\nmeter: 99/4\n| A7 |\n", "line 2"),
    "tempo": ("key: A\ntempo: 9999\n| A7 |\n", "line 2"),
}


@pytest.mark.parametrize("name", BAD_CHARTS)
def test_a_bad_chart_is_refused_with_its_place(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    text, words = BAD_CHARTS[name]
    Path("chart.txt").write_text(text)
    assert main(["play", "--from", str(TAKE.path), "--changes", "chart.txt"]) == Exit.BAD_INPUT
    error = capsys.readouterr().err
    assert words in error
    assert len(error.strip().splitlines()) == 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--tempo", "9"], "from 30 to 320"),
        (["--tempo", "fast"], "expected a number"),
        (["--swing", "9"], "from 1 to 3"),
        (["--a4", "300"], "from 415 to 466"),
        (["--choruses", "0"], "from 1 to"),
        (["--start", "-1"], "--start"),
        (["--start", "1000"], "beyond the end"),
        (["--json", "--events"], "choose one"),
    ],
)
def test_an_option_out_of_range_is_a_matter_of_usage(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["play", "--from", str(TAKE.path), "--fast", *arguments]) == Exit.USAGE
    assert words in capsys.readouterr().err


def test_an_unknown_option_ends_with_code_2() -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["play", "--no-such-option"])


def test_options_override_the_environment_that_overrides_the_settings_file(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("config").mkdir()
    Path("config/settings.json").write_text('{"choices": {"a4": 442, "tempo": 100}}')
    monkeypatch.setenv("BLUETHIRD_A4", "443")
    assert main(["settings", "--json"]) == Exit.DONE
    told = json.loads(capsys.readouterr().out)["settings"]
    assert told["a4"] == {"value": 443.0, "origin": "environment"}
    assert told["tempo"] == {"value": 100.0, "origin": "settings file"}
    assert told["swing"]["origin"] == "default"
    assert main(["notes", sound("a.wav", tone(0.5)), "--json", "--a4", "441"]) == Exit.DONE
    assert json.loads(capsys.readouterr().out)["a4_hz"] == 441.0


@pytest.mark.parametrize("text", ["{", '{"choices": {"tempi": 3}}', '{"choices": {"tempo": "x"}}'])
def test_a_bad_settings_file_is_named_and_left_as_it_is(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    Path("config").mkdir()
    Path("config/settings.json").write_text(text)
    assert main(["settings"]) == Exit.BAD_INPUT
    assert "settings.json" in capsys.readouterr().err
    assert Path("config/settings.json").read_text() == text


def test_help_starts_without_anything_slow() -> None:
    program = (
        "import sys\nfrom listener.cli import main\n"
        "try:\n    main(['play', '--help'])\nexcept SystemExit:\n    pass\n"
        "print(sorted({name.partition('.')[0] for name in sys.modules}), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    loaded = set(re.findall(r"'(\w+)'", done.stderr))
    assert not loaded & {"numpy", "scipy", "librosa", "numba", "rich", "sounddevice", "soundfile", "soxr"}


def test_every_command_and_option_is_in_the_readme_or_its_own_help() -> None:
    text, parser = README.read_text(encoding="utf-8"), build_parser()
    commands = next(a for a in parser._actions if a.dest == "command").choices
    assert commands
    for name, command in commands.items():
        assert f"bluethird {name}" in text, name
        assert "examples:" in command.format_help()
        assert all(action.help for action in command._actions if action.option_strings)


@pytest.mark.slow
def test_the_examples_of_the_readme_that_need_no_guitar_run(capsys: pytest.CaptureFixture[str]) -> None:
    samples, rate = sf.read(TAKE.path)
    sf.write("take.wav", samples, rate)
    indented = [line.strip() for line in README.read_text(encoding="utf-8").splitlines() if line.startswith("    ")]
    runnable = [line for line in indented if line.startswith("bluethird") and "take.wav" in line]
    assert len(runnable) >= 3
    for line in runnable:
        assert main(shlex.split(line)[1:]) == Exit.DONE, line
    assert "Chorus 1" in capsys.readouterr().out


def test_the_chart_of_the_readme_is_a_chart(capsys: pytest.CaptureFixture[str]) -> None:
    after = README.read_text(encoding="utf-8").split("a form's name or a text file:\n")[1]
    lines = takewhile(lambda line: not line or line.startswith("    "), after.splitlines())
    Path("mine.txt").write_text("\n".join(line[4:] for line in lines), encoding="utf-8")
    assert main(["play", "--from", str(TAKE.path), "--fast", "--json", "--changes", "mine.txt"]) == Exit.DONE
    assert json.loads(capsys.readouterr().out)["tempo_bpm"] == 92


def test_bash_completes_commands_and_options(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", "bash"]) == Exit.DONE
    script = capsys.readouterr().out
    ask = 'COMP_WORDS=(bluethird play --cho); COMP_CWORD=2; _bluethird; echo "${COMPREPLY[@]}"'
    done = subprocess.run(["bash", "-c", f"{script}\n{ask}"], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["--choruses"]
