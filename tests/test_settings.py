"""Settings are kept whole: nothing is lost to a damaged file, a full disk or a newer version."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from listener.errors import InputFileError, StorageError
from listener.settings import CheckedRig, Settings, load_settings, save_settings, settings_path

CHECKED = CheckedRig("Guitar Interface", 2, "Guitar Interface", 48000, -8.5, -62.0, -3.0, False)


def test_what_is_saved_is_loaded_and_what_is_unknown_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "new" / "settings.json"
    assert load_settings(path) == Settings()
    settings = Settings().with_choices({"device": "guitar:2", "a4": 442.0}).with_check(CHECKED).with_caution_shown()
    save_settings(settings, path)
    raw = json.loads(path.read_text(encoding="utf-8"))
    path.write_text(json.dumps({**raw, "later": {"x": 1}}), encoding="utf-8")
    loaded = load_settings(path)
    assert loaded.check_of("Guitar Interface", 2, "Guitar Interface", 48000) == CHECKED
    assert loaded.check_of("Guitar Interface", 2, "Guitar Interface", 44100) is None
    assert (loaded.choices["a4"], loaded.caution_shown) == (442.0, True)
    save_settings(loaded.with_choices({"a4": 440.0}), path)
    assert json.loads(path.read_text(encoding="utf-8"))["later"] == {"x": 1}
    assert [each.name for each in path.parent.iterdir()] == ["settings.json"]


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("{", "line 1 column 2"),
        ("", "line 1 column 1"),
        ("[]", "an object in braces"),
        ('{"caution_shown": 3}', "true or false"),
        ('{"sound_checks": {"a": {"input": 3}}}', "'a': input is 3"),
        ('{"sound_checks": {"a": {}}}', "'a': a value is missing"),
    ],
)
def test_a_damaged_file_is_named_and_left_as_it_is(tmp_path: Path, text: str, place: str) -> None:
    path = tmp_path / "settings.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputFileError, match=r"settings\.json are damaged") as refused:
        load_settings(path)
    assert place in str(refused.value)
    assert path.read_text(encoding="utf-8") == text


def test_a_file_that_is_no_text_or_a_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "binary.json").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputFileError, match="it is no text"):
        load_settings(tmp_path / "binary.json")
    with pytest.raises(InputFileError, match="is a directory"):
        load_settings(tmp_path)


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StorageError, match="the settings cannot be written to"):
        save_settings(Settings(), tmp_path / "file" / "settings.json")


def test_the_option_wins_over_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BLUETHIRD_CONFIG_HOME", "/from/environment")
    assert settings_path() == Path("/from/environment/settings.json")
    assert settings_path("/given") == Path("/given/settings.json")
