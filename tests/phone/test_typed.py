"""The phone reads what was typed as the server does: value, unit, question, suggestion, choices.

What either has to say is held to the trade elsewhere (tests/engineering/test_typed.py); here the two are compared, on
texts made from a seed, so that a phone without a signal says nothing that the server does not say.
"""

from __future__ import annotations

from fractions import Fraction
from random import Random

from engineering import exact, typed, units
from tests.phone import texts
from tests.phone.node import answers

MANY = 6000
FIELDS = ("mm", "in", "m", "kg", "kN", "Nm", "m/s", "deg", "degC", "count", "%", "g0", "ppm/K", "s")


def test_texts_are_read_alike():
    random = Random(20261126)
    tasks, expected = [], []
    for at in range(MANY):
        unit = random.choice(FIELDS)
        task = {"task": ("figure", "figure", "pair", "count")[at % 4], "text": texts.typed(random, unit)}
        task |= {"unit": unit, "signed": random.random() < 0.3}
        tasks.append(task)
        expected.append(_read(task))
    found = answers(tasks)
    assert [(task, here) for task, here, there in zip(tasks, found, expected, strict=True) if here != there] == []
    # The texts reach every question there is but those of dates and marks, and many are figures.
    codes = {one["code"] for one in expected if "code" in one}
    dates_and_marks = {
        "mark",
        "yes-no",
        "date-order",
        "date",
        "date-ahead",
        "tenfold-last",
        "tenfold-nominal",
        "inches",
    }
    assert codes == set(typed.SENTENCES) - dates_and_marks
    assert sum("value" in one for one in expected) > MANY / 10


def _read(task):
    try:
        if task["task"] == "pair":
            found = typed.read_pair(task["text"], task["unit"])
        elif task["task"] == "count":
            found = typed.read_count(task["text"])
        else:
            found = typed.read_figure(task["text"], task["unit"], signed=task["signed"])
    except typed.Unclear as question:
        return {
            "code": question.code, "sentence": question.sentence, "suggestion": question.suggestion,
            "choices": list(question.choices),
        }  # fmt: skip
    parts = [exact.exact_text(part) for part in found.parts]
    return {"value": found.exact, "text": found.text, "typed": found.typed_unit, "parts": parts}


def test_doubts_are_raised_alike():
    random = Random(7)
    tasks, expected = [], []
    for _ in range(1500):
        value, last, nominal = (_size(random) for _ in range(3))
        task = {"task": "doubt", "value": value, "unit": random.choice(("mm", "mm", "kg", "count"))}
        task |= {"last": random.choice(("", last)), "nominal": random.choice(("", nominal))}
        tasks.append(task)
        known = [Fraction(task[name]) if task[name] else None for name in ("last", "nominal")]
        doubt = typed.doubtful(Fraction(value), *known, unit=task["unit"])
        expected.append(doubt.sentence if doubt else "")
    assert answers(tasks) == expected
    assert {bool(one) for one in expected} == {True, False}


def _size(random):
    return random.choice(("0", "0.46", "11.8", "12", "118", "1.2", "60", "300/254", "2.4", "59", "-3", "11.684"))


def test_numbers_are_written_alike():
    random = Random(11)
    tasks, expected = [], []
    for _ in range(3000):
        value = Fraction(
            random.randrange(-(10**9), 10**9), random.choice((1, 2, 3, 7, 8, 10, 1000, 3600, 10**6, 999983))
        )
        value *= Fraction(10) ** random.choice((-30, -6, 0, 0, 0, 25))
        text, least, most = exact.exact_text(value), random.randrange(4), random.randrange(7)
        toward, near = random.choice(("nearest", "up", "down")), value + Fraction(random.randrange(-3, 4), 10**5)
        if len(text) > 80 or (text.count("/") and max(map(len, text.split("/"))) > 40):
            continue
        tasks += [
            {"task": "shown", "value": text, "least": least, "most": most, "toward": toward},
            {"task": "rounded", "value": text, "places": most, "toward": toward},
            {"task": "decimal", "value": text},
            {"task": "text", "value": text},
        ]
        expected += [
            exact.shown(value, least=least, most=most, toward=toward),
            exact.exact_text(exact.rounded(value, most, toward)),
            format(exact.as_decimal(value), "f"),
            text,
        ]
        if exact.GRAMMAR.fullmatch(exact.exact_text(near)):
            beside = random.choice((None, near))
            tasks.append(
                {"task": "bound", "bound": text, "value": beside and exact.exact_text(beside), "low": most > 2}
            )
            tasks[-1]["least"] = least
            expected.append(exact.shown_bound(value, beside, low=most > 2, least=least))
    found = answers(tasks)
    assert [(a, b, c) for a, b, c in zip(tasks, found, expected, strict=True) if b != c] == []
    assert len(tasks) > 5000


def test_a_tie_behind_the_last_digit_goes_to_the_even_one():
    values = [f"{sign}{digits}" for sign in ("", "-") for digits in (
        "0.12345678901234567890123456785", "0.12345678901234567890123456775", "99999999999999999999999999995",
        "1.2345678901234567890123456785",
    )]  # fmt: skip
    expected = [format(exact.as_decimal(Fraction(value)), "f") for value in values]
    assert answers([{"task": "decimal", "value": value} for value in values]) == expected


def test_units_are_those_of_the_server():
    told, *found = answers([{"task": "units"}, *_conversions("7/3")])
    assert told == [[one.name, one.shown, list(one.aliases)] for one in units.UNITS.values()]
    for task, value in zip(_conversions("7/3"), found, strict=True):
        assert value == exact.exact_text(units.convert(Fraction("7/3"), task["from"], task["to"])), task


def _conversions(value):
    return [
        {"task": "convert", "value": value, "from": one.name, "to": other.name}
        for one in units.UNITS.values()
        for other in units.UNITS.values()
        if one.dimension == other.dimension
    ]
