"""Fuzzes one parser with atheris until its time is up; what breaks it is left in the folder that is named.

    pip install -e '.[fuzz]'
    cd tests && python -m fuzz.run scores 600 /tmp/found

A crasher belongs into tests/fuzz/crashers/TARGET-what-it-was, where `test_crashers` replays it for ever.
"""

from __future__ import annotations

import sys
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["progressions"]):
    from fuzz.seeds import seeds, words
    from fuzz.targets import TARGETS


def _dictionary(target: str, path: Path) -> list[str]:
    """The option that gives the fuzzer the words of the language, where there are any."""
    told = [word for word in words(target) if word]
    lines = ("".join(f"\\x{byte:02x}" for byte in word.encode()) for word in told)
    path.write_text("".join(f'"{line}"\n' for line in lines))
    return [f"-dict={path}"] if told else []


def main() -> None:
    target, seconds, folder = sys.argv[1], int(sys.argv[2]), Path(sys.argv[3])
    corpus = folder / "corpus"
    corpus.mkdir(parents=True, exist_ok=True)
    for number, seed in enumerate(seeds(target)):
        (corpus / f"seed-{number}").write_bytes(seed)
    longest = 200 if target in ("chords", "degrees") else 8000
    options = [
        f"-max_total_time={seconds}",
        "-timeout=5",
        f"-max_len={longest}",
        *_dictionary(target, folder / "words.txt"),
        f"-artifact_prefix={folder}/",
        "-rss_limit_mb=1500",
    ]
    atheris.Setup([sys.argv[0], *options, str(corpus)], TARGETS[target])
    atheris.Fuzz()


if __name__ == "__main__":
    main()
