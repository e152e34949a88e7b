"""A take survives what happens to programs and disks. Its sound is read back by libsndfile, not by our own reader."""

from __future__ import annotations

import json
import os
import random
import resource
import signal
import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile

from listener.errors import StorageError
from listener.events import Block
from listener.take import TakeWriter, new_take_folder, repair_takes

RATE = 48000

CHILD = """
import sys, time
from pathlib import Path
import numpy as np
from listener.events import Block
from listener.take import TakeWriter
take = TakeWriter(Path(sys.argv[1]), 48000, {"tempo_bpm": 80})
start = 0
while True:
    ramp = (np.arange(start, start + 480) % 65536).astype(np.float32) / 65536
    take.write(Block(start, ramp))
    start += 480
    take.append({"id": start, "function": "♭3"})
    print(start, flush=True)
    time.sleep(0.002)
"""


def ramp(start: int, frames: int) -> np.ndarray:
    """Samples that tell their own index, exact in 16 bits and so in the take's 24."""
    return (np.arange(start, start + frames) % 65536).astype(np.float32) / 65536


def write_ramp(take: TakeWriter, frames: int) -> None:
    for start in range(0, frames, RATE // 2):
        take.write(Block(start, ramp(start, RATE // 2)))


def lines(folder: Path) -> list[dict[str, object]]:
    return [json.loads(line) for line in (folder / "notes.jsonl").read_text(encoding="utf-8").splitlines()]


def test_a_closed_take_is_flac_that_holds_every_sample(tmp_path: Path) -> None:
    folder = new_take_folder(tmp_path, datetime(2025, 3, 9, 20, 15))
    take = TakeWriter(folder, RATE, {"tempo_bpm": 80})
    start = -960
    for frames in (1, 255, 1024, RATE, 7):
        take.write(Block(start, ramp(start + 960, frames)))
        start += frames
    take.append({"id": 1, "function": "♭3"})
    take.describe({"first_beat": 4800})
    audio = take.close()
    assert audio == take.close()
    samples, rate = soundfile.read(audio, dtype="float32")
    assert rate == RATE
    assert np.array_equal(samples, ramp(0, start + 960))
    assert soundfile.info(audio).subtype == "PCM_24"
    header = json.loads((folder / "take.json").read_text(encoding="utf-8"))
    assert (header["schema"], header["first_sample"], header["first_beat"]) == ("bluethird/take/1", -960, 4800)
    assert lines(folder) == [{"id": 1, "function": "♭3"}]
    assert sorted(path.name for path in folder.iterdir()) == ["audio.flac", "notes.jsonl", "take.json"]
    assert repair_takes(tmp_path) == []


def test_samples_keep_24_bits_and_are_cut_off_at_full_scale(tmp_path: Path) -> None:
    take = TakeWriter(tmp_path / "t", RATE, {})
    take.write(Block(0, np.array([2**-23, -1.0, 1.5, -1.5], np.float32)))
    samples, _ = soundfile.read(take.close(), dtype="float64")
    assert samples.tolist() == [2**-23, -1.0, 1 - 2**-23, -1.0]


def test_the_part_file_is_a_true_wav_while_it_is_written(tmp_path: Path) -> None:
    take = TakeWriter(tmp_path / "t", RATE, {})
    write_ramp(take, 3 * RATE)
    samples, rate = soundfile.read(tmp_path / "t" / "audio.wav.part", dtype="float32")
    assert (len(samples), rate) == (3 * RATE, RATE)
    assert np.array_equal(samples, ramp(0, 3 * RATE))
    assert repair_takes(tmp_path / "..") == []


def test_a_take_that_is_being_written_is_not_mended(tmp_path: Path) -> None:
    take = TakeWriter(new_take_folder(tmp_path, datetime(2025, 1, 1)), RATE, {})
    take.write(Block(0, ramp(0, RATE)))
    assert repair_takes(tmp_path) == []
    take.write(Block(RATE, ramp(RATE, RATE)))
    assert soundfile.info(take.close()).frames == 2 * RATE


def test_a_gap_is_noted_and_a_block_out_of_place_is_refused(tmp_path: Path) -> None:
    take = TakeWriter(tmp_path / "t", RATE, {})
    take.write(Block(-5, ramp(0, 100)))
    take.write(Block(95, np.zeros(300, np.float32), gap=300))
    with pytest.raises(ValueError, match="block at sample 400: the take goes on at 395"):
        take.write(Block(400, ramp(0, 10)))
    take.close()
    assert lines(tmp_path / "t") == [{"gap": {"start_sample": 95, "frames": 300}}]


def test_no_take_is_overwritten(tmp_path: Path) -> None:
    when = datetime(2025, 3, 9, 20, 15)
    first = TakeWriter(new_take_folder(tmp_path, when), RATE, {})
    first.close()
    assert new_take_folder(tmp_path, when) != first.folder
    with pytest.raises(StorageError, match="never overwritten"):
        TakeWriter(first.folder, RATE, {})


def test_a_killed_writer_loses_no_sample_it_was_given(tmp_path: Path) -> None:
    chance = random.Random(3)
    for attempt in range(3):
        folder = tmp_path / "takes" / f"killed-{attempt}"
        with subprocess.Popen([sys.executable, "-c", CHILD, str(folder)], stdout=subprocess.PIPE, text=True) as child:
            assert child.stdout is not None
            child.stdout.readline()
            time.sleep(chance.uniform(0.1, 0.6))
            child.send_signal(signal.SIGKILL)
            told = [int(line) for line in child.stdout.read().splitlines() if line.isdigit()]
        with (folder / "notes.jsonl").open("ab") as file:
            file.write(b'{"id": 7, "func')  # what a power cut leaves of a line
        (mended,) = repair_takes(tmp_path)
        samples, rate = soundfile.read(mended.audio, dtype="float32")
        assert (mended.audio.name, rate) == ("audio.flac", RATE)
        assert len(samples) >= max(told, default=480)
        assert np.array_equal(samples, ramp(0, len(samples)))
        assert [line["id"] for line in lines(folder)] == list(range(480, 480 * len(lines(folder)) + 1, 480))
        assert repair_takes(tmp_path) == []


def test_a_sample_written_in_part_and_a_stale_header_are_mended(tmp_path: Path) -> None:
    folder = new_take_folder(tmp_path, datetime(2025, 1, 1))
    TakeWriter(folder, RATE, {}).close()
    (folder / "audio.wav").rename(folder / "audio.wav.part")
    with (folder / "audio.wav.part").open("ab") as file:
        file.write(b"\x00\x00\x40" * 1000 + b"\x00\x00")
    (mended,) = repair_takes(tmp_path)
    samples, _ = soundfile.read(mended.audio)
    assert samples.tolist() == [0.5] * 1000


def test_a_full_disk_is_told_in_one_sentence_and_the_sound_until_then_is_kept(tmp_path: Path) -> None:
    # the kernel refuses to let a file grow beyond RLIMIT_FSIZE, as it would on a full disk
    folder, limit = tmp_path / "takes" / "full", 200_000
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    take = TakeWriter(folder, RATE, {})
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, hard))
    try:
        with pytest.raises(StorageError, match=r"the take beyond 1\.0 s cannot be written .* full"):
            write_ramp(take, 10 * RATE)
        with pytest.raises(StorageError, match="full"):
            take.append({"id": 1})
        audio = take.close()
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    samples, _ = soundfile.read(audio, dtype="float32")
    assert len(samples) == (limit - 44) // 3
    assert np.array_equal(samples, ramp(0, len(samples)))


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StorageError, match="the take cannot be written to"):
        TakeWriter(tmp_path / "file" / "take", RATE, {})
    if os.geteuid() != 0:  # the system lets its superuser write everywhere
        (tmp_path / "closed").mkdir(mode=0o500)
        with pytest.raises(StorageError, match="no permission"):
            TakeWriter(tmp_path / "closed" / "take", RATE, {})
