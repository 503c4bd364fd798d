"""The faces of the papers, how wide a word is in them, and what stands in for a letter that a face does not have."""

from __future__ import annotations

import re
import unicodedata
from functools import cache, lru_cache
from pathlib import Path

from reportlab import rl_config
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

# Streams in bytes, not spelled in letters: smaller files, and a fifth of the time saved.
rl_config.useA85 = 0

FOLDER = Path(__file__).resolve().parent.parent / "fonts"
REGULAR = "Lineworthy"
STRONG = "Lineworthy-Strong"
HEAVY = "Lineworthy-Heavy"
SPARE = "Lineworthy-Spare"  # wide coverage; read only when a word needs it
FILES = {
    REGULAR: "hyperlegible-tabular-regular.ttf",
    STRONG: "hyperlegible-tabular-semibold.ttf",
    HEAVY: "hyperlegible-tabular-extrabold.ttf",
    SPARE: "dejavu-sans-condensed.ttf",
}

_UNIT = re.compile(r"(?<=\d) (?=(?:%|°|(?:[cmk]?m|kg|lb|Nm|kN|m/s|km/h|mph|ft|in)\b))")


@cache
def font(face: str) -> TTFont:
    """Load and register one face, without shaping: the same text gives the same bytes on every machine."""
    loaded = TTFont(face, str(FOLDER / FILES[face]), shapable=False)
    pdfmetrics.registerFont(loaded)
    return loaded


@cache
def letters(face: str) -> frozenset[str]:
    """Return the characters that a face can write."""
    return frozenset(map(chr, font(face).face.charToGlyph))


@lru_cache(maxsize=65536)
def clean(text: str) -> str:
    """Return text as it can be drawn: composed, on one line, nothing lost.

    A character that no face can write is written as its number, because a record must not drop what was typed. A unit
    keeps to its figure by a space that does not break.

    >>> clean("cafe\\u0301")
    'café'
    >>> clean("\\u4e2d")
    '[U+4E2D]'
    """
    text = _UNIT.sub("\xa0", text)
    if text.isprintable() and text.isascii():
        return text
    text = "".join(
        " " if unicodedata.category(c) in ("Cc", "Zl", "Zp") else c for c in unicodedata.normalize("NFC", text)
    )
    known = letters(REGULAR)
    if known.issuperset(text):
        return text
    known = known | letters(SPARE)
    # A sign that is not seen but turns or hides others (category Cf), or that is none (Cn), is shown by its number too.
    unseen = {"Cf", "Cn"}
    return "".join(c if c in known and unicodedata.category(c) not in unseen else f"[U+{ord(c):04X}]" for c in text)


@lru_cache(maxsize=65536)
def word_width(word: str, face: str) -> float:
    """Return the width of a clean word without spaces, in thousandths of the size.

    >>> word_width("10", REGULAR) == word_width("88", REGULAR)  # figures stand under one another
    True
    """
    widths = font(face_of(word, face)).face.charWidths
    return sum(widths[ord(c)] if ord(c) != 0xA0 else widths[32] for c in word)


@cache
def space_width(face: str) -> float:
    return font(face).face.charWidths[32]


@lru_cache(maxsize=65536)
def face_of(word: str, face: str) -> str:
    """Return the face that writes a whole word: a word of two faces reads badly."""
    if word.isascii() or letters(face).issuperset(word):
        return face
    return SPARE


def text_width(text: str, face: str, size: float) -> float:
    """Return the width of clean text in points."""
    words = text.split(" ")
    return (sum(word_width(w, face) for w in words) + (len(words) - 1) * space_width(face)) * size / 1000


def pieces(text: str, face: str) -> list[tuple[str, str]]:
    """Cut clean text into (face, text) so that each piece is written in one face."""
    if text.isascii() or letters(face).issuperset(text):
        return [(face, text)]
    cut: list[tuple[str, str]] = []
    for number, word in enumerate(text.split(" ")):
        own = face_of(word, face)
        if number and cut[-1][0] == face:
            cut[-1] = (face, cut[-1][1] + " ")
        elif number:
            cut.append((face, " "))
        if cut and cut[-1][0] == own:
            cut[-1] = (own, cut[-1][1] + word)
        elif word:
            cut.append((own, word))
    return cut


for _face in (REGULAR, STRONG, HEAVY):
    font(_face)
