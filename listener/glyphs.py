"""Letters of chord symbols in block cells: five rows high, and the same letters at half that size.

The table is drawn on a grid of terminal cells, five rows high, with upright strokes two cells wide and level strokes
one row high, because a cell is about twice as high as it is wide. All widths are even, so that two by two cells make
one quadrant block and the half size needs no table of its own.
"""

from __future__ import annotations

from functools import lru_cache

ROWS = 5
HALF_ROWS = 3
GAP = 2  # empty cells between two letters at full size; half of it at half size

# One line per letter: the five rows from the top, "#" is a filled cell.
_DRAWN: dict[str, str] = {
    "A": ".####. ##..## ###### ##..## ##..##",
    "B": "#####. ##..## #####. ##..## #####.",
    "C": ".##### ##.... ##.... ##.... .#####",
    "D": "#####. ##..## ##..## ##..## #####.",
    "E": "###### ##.... #####. ##.... ######",
    "F": "###### ##.... #####. ##.... ##....",
    "G": ".##### ##.... ##.### ##..## .#####",
    "M": "##....## ###..### ##.##.## ##....## ##....##",
    "N": "##...### ####.### ##.##### ##..#### ##...###",
    "R": "#####. ##..## #####. ##.##. ##..##",
    "0": ".####. ##..## ##..## ##..## .####.",
    "1": "..##.. ####.. ..##.. ..##.. ######",
    "2": "#####. ....## .####. ##.... ######",
    "3": "#####. ....## .####. ....## #####.",
    "4": "##..## ##..## ###### ....## ....##",
    "5": "###### ##.... #####. ....## #####.",
    "6": ".####. ##.... #####. ##..## .####.",
    "7": "###### ....## ...##. ..##.. ..##..",
    "8": ".####. ##..## .####. ##..## .####.",
    "9": ".####. ##..## .##### ....## .####.",
    "a": "...... ...... .##### ##..## .#####",
    "b": "##.... ##.... #####. ##..## #####.",
    "d": "....## ....## .##### ##..## .#####",
    "g": "...... .##### ##..## .##### ...##.",
    "i": "## .. ## ## ##",
    "j": "..## .... ..## ..## ###.",
    "l": "## ## ## ## ##",
    "m": "........ ........ #######. ##.##.## ##.##.##",
    "n": "...... ...... #####. ##..## ##..##",
    "o": "...... ...... .####. ##..## .####.",
    "s": "...... .##### ###... ...### #####.",
    "t": ".##. .##. #### .##. .###",
    "u": "...... ...... ##..## ##..## .#####",
    "x": "...... ...... ##..## ..##.. ##..##",
    "♭": "##.... ##.... #####. ##.##. ####..",
    "♯": ".##..##. ######## .##..##. ######## .##..##.",
    "𝄫": "##...##... ##...##... #########. ##.####.## ####.####.",
    "𝄪": "...... ##..## ..##.. ##..## ......",
    "°": "####.. ##.#.. ####.. ...... ......",
    "ø": ".####.## ##..##.. ##.#.##. ###...## ##.####.",
    "Δ": "...##... ..####.. .##..##. ##....## ########",
    "↑": "..##.. .####. ###### ..##.. ..##..",
    "+": "...... ..##.. ###### ..##.. ......",
    "-": "...... ...... ###### ...... ......",
    "/": "....## ...##. ..##.. .##... ##....",
    "(": ".### ##.. ##.. ##.. .###",
    ")": "###. ..## ..## ..## ###.",
    ".": ".. .. .. .. ##",
    ",": ".. .. .. ## ##",
    "?": "#####. ....## ..###. ...... ..##..",
    " ": ".. .. .. .. ..",
}

GLYPHS: dict[str, tuple[str, ...]] = {letter: tuple(drawn.split()) for letter, drawn in _DRAWN.items() if letter != " "}
GLYPHS[" "] = ("..",) * ROWS

# What each sign becomes where the terminal has no more than ASCII.
ASCII: dict[str, str] = {
    "♭": "b", "♯": "#", "♮": "n", "𝄫": "bb", "𝄪": "x", "°": "dim", "ø": "m7b5", "Δ": "maj",
    "→": "->", "↑": "^", "·": ".", "•": "o", "×": "x", "▸": ">", "–": "-", "—": "-", "−": "-", "…": "~",
    "─": "-", "━": "=", "│": "|", "┴": "+", "┊": ":", "▕": "[", "▏": "]", "█": "#", "▌": "#",
    "±": "+-", "≥": ">=", "≤": "<=", "’": "'", "“": '"', "”": '"',
}  # fmt: skip

# Quadrant blocks by (upper left, upper right, lower left, lower right), and what stands for them in ASCII.
_QUADRANTS = " ▗▖▄▝▐▞▟▘▚▌▙▀▜▛█"
_ASCII_QUADRANTS = " .._'#/#'\\##\"###"


def ascii_text(text: str) -> str:
    """The text in ASCII alone: signs of music by their common typed form, anything else as a question mark."""
    if text.isascii():
        return text
    return "".join(sign if sign.isascii() else ASCII.get(sign, "?") for sign in text)


def has_glyphs(text: str) -> bool:
    """Whether every letter of `text` is in the table."""
    return all(letter in GLYPHS for letter in text)


def full_width(text: str) -> int:
    """Width in cells of `text` at full size. Every letter must be in the table."""
    return sum(len(GLYPHS[letter][0]) for letter in text) + GAP * max(len(text) - 1, 0)


def half_width(text: str) -> int:
    """Width in cells of `text` at half size."""
    return full_width(text) // 2


@lru_cache(maxsize=256)
def full_rows(text: str, *, scale: int = 1, ascii_only: bool = False) -> tuple[str, ...]:
    """`text` in block cells, `5 * scale` rows of equal width; KeyError for a letter outside the table."""
    filled = "#" if ascii_only else "█"
    rows = []
    for row in range(ROWS):
        drawn = ("." * GAP).join(GLYPHS[letter][row] for letter in text)
        line = "".join((filled if cell == "#" else " ") * scale for cell in drawn)
        rows.extend([line] * scale)
    return tuple(rows)


@lru_cache(maxsize=256)
def half_rows(text: str, *, ascii_only: bool = False) -> tuple[str, ...]:
    """`text` at half size, three rows of equal width that stand on the lower edge; KeyError as `full_rows`."""
    blocks = _ASCII_QUADRANTS if ascii_only else _QUADRANTS
    drawn = [("." * GAP).join(GLYPHS[letter][row] for letter in text) for row in range(ROWS)]
    width = len(drawn[0])
    drawn.insert(0, "." * width)  # five halves in three rows: the empty half goes on top, letters keep their foot
    rows = []
    for row in range(0, 2 * HALF_ROWS, 2):
        upper, lower = drawn[row], drawn[row + 1]
        cells = []
        for column in range(0, width, 2):
            quad = upper[column : column + 2] + lower[column : column + 2]
            cells.append(blocks[int(quad.replace("#", "1").replace(".", "0"), 2)])
        rows.append("".join(cells))
    return tuple(rows)
