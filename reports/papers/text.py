"""Set text into lines of a given width. Words keep together; a word too long for its column is cut, never run over."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from reports.papers.fonts import clean, face_of, space_width, text_width, word_width
from reports.papers.style import Type


class Span(NamedTuple):
    """Text of one kind on one line, ``x`` points right of the line's beginning."""

    x: float
    text: str
    type: Type
    width: float
    struck: bool = False


class Piece(NamedTuple):
    """Text before it is set: part of a paragraph of several kinds. ``struck`` strikes it through."""

    text: str
    type: Type
    struck: bool = False


Line = tuple[Span, ...]
Words = str | Sequence[Piece]  # what a caller may hand over: plain text, or pieces


def _cut(word: str, face: str, room: float) -> Iterable[str]:
    """Cut a word that is wider than ``room`` (thousandths of the size) into parts that fit, at least a letter each.

    A part may be set in the face of the whole word or, where the letters that need the spare face are in another part,
    in its own: it fits in both.

    It is cut where it may be, before a bracket or after a hyphen or slash, if that is not too early.

    >>> from reports.papers.fonts import REGULAR
    >>> list(_cut("1926.1413(a)(2)(ii)(A)(3)", REGULAR, 9000))
    ['1926.1413(a)(2)(ii)', '(A)(3)']
    """
    faces, part = {face, face_of(word, face)}, ""
    for letter in word:
        if part and max(word_width(part + letter, one) for one in faces) > room:
            cut = next((p for p in range(len(part), len(part) // 2, -1) if _is_seam(part + letter, p)), len(part))
            yield part[:cut]
            part = part[cut:]
        part += letter
    yield part


def _is_seam(text: str, place: int) -> bool:
    return text[place] == "(" or text[place - 1] in "-/_"


@lru_cache(maxsize=4096)  # the same limits, clauses and words stand beside many readings
def set_plain(text: str, kind: Type, width: float) -> tuple[Line, ...]:
    """Set text of one kind. New lines in the text are kept; the result has at least one line.

    >>> from reports.papers.style import BODY
    >>> [line[0].text for line in set_plain("one two three", BODY, 30)]
    ['one', 'two', 'three']
    """
    lines: list[Line] = []
    face, scale = kind.face, kind.size / 1000
    room, space = width / scale, space_width(kind.face)
    for paragraph in text.splitlines() or [""]:
        words: list[str] = []
        used = 0.0
        for word in clean(paragraph).split(" "):
            wide = word_width(word, face)
            if words and used + space + wide > room:
                lines.append((Span(0, " ".join(words), kind, used * scale),))
                words, used = [], 0.0
            if wide > room:
                *full, word = _cut(word, face, room)
                lines += [(Span(0, part, kind, word_width(part, face) * scale),) for part in full]
                wide = word_width(word, face)
            used += (space if words else 0) + wide
            words.append(word)
        lines.append((Span(0, " ".join(words), kind, used * scale),))
    return tuple(lines)


def set_words(words: Words, kind: Type, width: float) -> Sequence[Line]:
    """Set plain text in ``kind``, or pieces each in its own."""
    if isinstance(words, str):
        return set_plain(words, kind, width)
    return _set_pieces(words, width)


def _set_pieces(given: Sequence[Piece], width: float) -> list[Line]:
    lines: list[Line] = []
    line: list[Span] = []
    run: list[str] = []  # what the newest span is made of; joined once it is whole
    start = x = 0.0
    kind_now, struck_now = None, False

    def end_run() -> None:
        nonlocal run
        if run and kind_now is not None:
            line.append(Span(start, "".join(run), kind_now, x - start, struck_now))
        run = []

    def end_line() -> None:
        nonlocal line, x
        end_run()
        lines.append(tuple(line))
        line, x = [], 0.0

    for text, kind, struck in given:
        scale, face = kind.size / 1000, kind.face
        space = space_width(face) * scale
        for row, paragraph in enumerate(text.splitlines() or [""]):
            if row:
                end_line()
            for place, word in enumerate(clean(paragraph).split(" ")):
                before = space if place and x else 0.0
                wide = word_width(word, face) * scale
                if x and x + before + wide > width:
                    end_line()
                    before = 0.0
                    if not word:
                        continue
                if not run or kind is not kind_now or struck != struck_now:
                    end_run()
                    kind_now, struck_now, start = kind, struck, x + before
                elif before:
                    run.append(" ")
                if wide > width:
                    *full, word = _cut(word, face, width / scale)
                    for part in full:
                        run.append(part)
                        x += before + word_width(part, face) * scale
                        end_line()
                        start = before = 0.0
                    wide = word_width(word, face) * scale
                run.append(word)
                x += before + wide
    end_line()
    return lines


def line_width(line: Line) -> float:
    return line[-1].x + line[-1].width if line else 0.0


def shortened(text: str, kind: Type, width: float) -> str:
    """Return text on one line of a width, its end left out where it must: for running heads, never for the record."""
    text = clean(text)
    if text_width(text, kind.face, kind.size) <= width:
        return text
    while text and text_width(f"{text}…", kind.face, kind.size) > width:
        text = text[:-1].rstrip()
    return f"{text}…"


def width_of(text: str, kind: Type) -> float:
    return text_width(clean(text), kind.face, kind.size)
