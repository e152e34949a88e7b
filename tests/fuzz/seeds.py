"""What the fuzzer starts from: small sound examples of every format, and the words of each language."""

from __future__ import annotations

import io
import json
import zipfile

from progressions.chart import parse_chart
from progressions.exchange import musicxml
from progressions.exchange.kinds import KINDS
from progressions.qualities import MODIFIERS, QUALITY_SPELLINGS

CHART = """title: Changes
key: B♭
meter: 4/4
tempo: 126.5
swing: 1.7
# a comment
| [pick-up] F7:1 |
[A]
|: B♭maj7 | Gm7♭5 C7alt/E | Cm7 F7sus4(♭9) | %% |
|1 Dm7 <G7(♭9,♯11) :|2 B♭6/9 N.C. |
|: [3/4] E♭13♯11 E♭mMaj7 D°7 | [6/8] [key: G minor] Gm9 C13 :|x3
| [4/4] [key: B♭] [tempo: 140] B♭:3 C/B♭:1/2 F+:1/2 | % |
"""
DEGREES = "key: C\n| I7 | ii-7 V7/5 | ♭VII7 | ♯iv°7 |\n"
LAB = "0.0 0.5 N\n0.5 2.5 C:7\n2.5 4.5 F:9(*5)/3\n4.5 6.5 A#:min7/b3\n6.5 9 X\n"
JAMS = {
    "annotations": [
        {"namespace": "chord", "data": [{"time": 0.0, "duration": 2.0, "value": "C:7(#9)/5", "confidence": None}]},
        {
            "namespace": "beat_position",
            "data": [
                {"time": n / 2, "duration": 0.0, "value": {"position": n + 1, "num_beats": 4, "beat_units": 4}}
                for n in range(4)
            ],
        },
        {"namespace": "tempo", "data": {"time": [0.0], "duration": [2.0], "value": [120.0]}},
        {"namespace": "key_mode", "data": [{"time": 0.0, "duration": 2.0, "value": "C:minor"}]},
    ],
    "file_metadata": {"title": "Changes"},
}
CONTAINER = '<container><rootfiles><rootfile full-path="song.xml"/></rootfiles></container>'


def _compressed(score: str) -> bytes:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w") as archive:
        archive.writestr("META-INF/container.xml", CONTAINER)
        archive.writestr("song.xml", score)
    return data.getvalue()


def seeds(target: str) -> list[bytes]:
    """Sound inputs of a target."""
    score = musicxml.write(parse_chart(CHART))
    small = musicxml.write(parse_chart("key: C\n|: C7 |1 F13♯11/A :|2 N.C. |\n"))
    return {
        "chords": [text.encode() for text in ("C7", "B♭m7♭5/E", "F♯13(♭9,♯11)", "N.C.", "C:maj7(9,*5)/b3", "Ebb5")],
        "degrees": [text.encode() for text in ("I7", "♭VII7", "ii-7", "♯iv°7", "V7/5", "iiø7")],
        "charts": [CHART.encode(), DEGREES.encode()],
        "scores": [score.encode(), small.encode(), _compressed(small)],
        "measures": [bytes([36, 3, 0, 37, 2, 2, 0, 38, 3]), bytes([5, 36, 3, 7, 0, 3, 6, 10, 0, 8, 36, 3])],
        "jams": [json.dumps(JAMS).encode()],
        "labs": [LAB.encode()],
    }[target]


def words(target: str) -> list[str]:
    """What the fuzzer may put in whole."""
    symbols = [*QUALITY_SPELLINGS, *(text for modifier in MODIFIERS for text in modifier.spellings)]
    chart = ["title:", "key:", "meter:", "tempo:", "swing:", "[pick-up]", "|:", ":|", "|1", ":|2", "x3", "%%", "N.C."]
    tags = "harmony root root-step kind bass degree note duration forward backup barline repeat ending attributes time"
    scores = [f"<{tag}>" for tag in tags.split()] + [f"</{tag}>" for tag in tags.split()] + list(KINDS)
    fields = ["annotations", "namespace", "data", "time", "duration", "value", "chord", "beat", "tempo", "key_mode"]
    told = [f'"{field}": ' for field in fields] + ["[]", "{}", "null", "1e300", "-1", "0.5", '"C:7(#9)/5"', '"N"']
    return {"charts": chart + symbols, "scores": scores, "jams": told, "measures": []}.get(target, symbols)
