"""Chart files of every format that is read: text, MusicXML (plain or compressed), JAMS and Harte-syntax lab files."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from listener.errors import InputFileError
from progressions.chart import Chart, parse_chart, transpose_chart
from progressions.keys import Key

LARGEST_BYTES = 8_000_000
LONGEST_TEXT_BYTES = 1_000_000

# What every reader is given: the file's bytes, its name for messages, the key and the tempo the player asked for.
Reader = Callable[[bytes, str, Key | None, float | None], Chart]


def read_chart_file(path: Path, key: Key | None = None, tempo_bpm: float | None = None) -> Chart:
    """The chart of a file, told by its suffix; any other suffix is chart text.

    Charts and scores are brought into `key`. JAMS and lab files tell how a recording sounds and mostly no key, so
    there `key` says what it is; lab files tell no beats either, so there `tempo_bpm` says how fast they are.
    Raises InputFileError, or ProgressionsError with the place in the file.
    """
    suffix = path.suffix.lower()
    reader = READERS.get(suffix, _read_text)
    data = _bytes(path, LONGEST_TEXT_BYTES if reader is _read_text else LARGEST_BYTES)
    return reader(data, str(path), key, tempo_bpm)


def _bytes(path: Path, most: int) -> bytes:
    if not path.exists():
        raise InputFileError(f"{path} does not exist")
    if path.is_dir():
        raise InputFileError(f"{path} is a folder, not a chart")
    try:
        with path.open("rb") as file:
            data = file.read(most + 1)
    except OSError as error:
        raise InputFileError(f"{path} cannot be read: {error.strerror or error}") from error
    if len(data) > most:
        raise InputFileError(f"{path} is larger than a chart can be")
    return data


def _text(data: bytes, name: str) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputFileError(f"{name} is no text in UTF-8, so it cannot be a chart") from None


def _in_key(chart: Chart, key: Key | None) -> Chart:
    return chart if key is None else transpose_chart(chart, key)


def _read_text(data: bytes, name: str, key: Key | None, tempo_bpm: float | None) -> Chart:
    return _in_key(parse_chart(_text(data, name), name), key)


# The readers of other formats are imported where one is needed: none of them is on the way to --help.
def _read_musicxml(data: bytes, name: str, key: Key | None, tempo_bpm: float | None) -> Chart:
    from progressions.exchange import musicxml

    return _in_key(musicxml.read(data, name), key)


def _read_jams(data: bytes, name: str, key: Key | None, tempo_bpm: float | None) -> Chart:
    from progressions.exchange.jams import read_jams

    return read_jams(_text(data, name), name, tempo_bpm=tempo_bpm, key=key)


def _read_lab(data: bytes, name: str, key: Key | None, tempo_bpm: float | None) -> Chart:
    from progressions.exchange.lab import read_lab

    return read_lab(_text(data, name), name, tempo_bpm=tempo_bpm, key=key)


READERS: dict[str, Reader] = {
    ".musicxml": _read_musicxml,
    ".mxl": _read_musicxml,
    ".xml": _read_musicxml,
    ".jams": _read_jams,
    ".lab": _read_lab,
}
