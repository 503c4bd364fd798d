"""How complete the record is: due by calendar and checklist, counted by hand for a morning of two lines.

What is due is counted from the checklists as they are composed; the counting itself has the cases of
``tests/engineering/test_reliability_records.py``.
"""

from __future__ import annotations

from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any

from django.urls import reverse

from courses.models import Place
from engineering.reliability_completeness import Completeness
from engineering.reliability_words import Note
from inspections import actions
from inspections.models import Day, Ride, Sheet
from reports.complete import Complete, complete_of
from tests import make

DAY = 24 * 60
FIRST, LAST = date(2026, 1, 1), date(2026, 12, 31)


def counted(w: SimpleNamespace, *, days: int) -> Complete:
    return complete_of(w.course, FIRST, LAST, at=w.t(days * DAY + 30))


def figures(found: Complete) -> Completeness:
    assert isinstance(found.found, Completeness)
    return found.found


def test_the_running_day_is_not_counted(w: SimpleNamespace) -> None:
    # The day before was only ridden: its sheets are missing, its rides are there.
    found = figures(counted(w, days=0))
    rode = Ride.objects.filter(day__course=w.course).exclude(day__date=w.on)

    assert Sheet.objects.filter(day__date=w.on).exists()
    assert found.signed == len({(one.day_id, one.place_id) for one in rode}) == len(w.lines)


def test_a_whole_morning_is_complete_and_in_time(w: SimpleNamespace) -> None:
    make.open_lines(w, at=w.t(30))
    before, after = figures(counted(w, days=0)), figures(counted(w, days=1))
    signed = {(one.place_id, one.section) for one in Sheet.objects.filter(day__date=w.on)}
    due = after.due - before.due

    # Every daily sheet of both lines, three platforms, store with two racks and rescue kit, house; and two rides.
    assert after.signed - before.signed == after.on_time - before.on_time == due
    assert len(w.lines) + 3 * len(w.lines) < due <= len(signed) + len(w.lines)


def test_a_morning_nobody_came_is_due_and_missing(w: SimpleNamespace) -> None:
    make.open_lines(w, at=w.t(30))
    one, two = figures(counted(w, days=1)), figures(counted(w, days=2))

    assert two.signed == one.signed
    assert two.due > one.due
    assert two.longest_gap[str(w.line.pk)] == 1
    assert any(str(w.line) in sentence for sentence in counted(w, days=2).gaps)


def test_a_line_that_stayed_closed_was_not_due_but_one_that_opened_was(w: SimpleNamespace) -> None:
    make.open_lines(w, at=w.t(30))
    both = figures(counted(w, days=1)).due
    actions.sign_off(
        w.course, decisions={str(one.pk): "closed" for one in w.lines}, meaning="Closed at noon.", seen_revision=1,
        deed=make.deed(w.manager, at=w.t(180)),
    )  # fmt: skip

    assert figures(counted(w, days=1)).due == both  # it had been open that morning


def test_a_day_on_which_no_line_opened_asks_for_nothing(w: SimpleNamespace) -> None:
    before = figures(counted(w, days=0))
    actions.sign_off(
        w.course, decisions={str(one.pk): "closed" for one in w.lines}, meaning="Closed all day.", seen_revision=0,
        deed=make.deed(w.manager, at=w.t(30)),
    )  # fmt: skip
    after = figures(counted(w, days=1))

    assert after.due == before.due
    assert "unknown-records" in [one.code for one in after.notes]


def test_only_the_platforms_of_lines_that_opened_were_due(w: SimpleNamespace) -> None:
    actions.sign_off(
        w.course, decisions={str(w.lines[0].pk): "open", str(w.lines[1].pk): "closed"}, meaning="One line open.",
        seen_revision=0, deed=make.deed(w.manager, at=w.t(30)),
    )  # fmt: skip
    far = Place.objects.get(course=w.course, kind="platform", number=3)
    day_before = figures(counted(w, days=0))
    found = figures(counted(w, days=1))

    assert day_before.longest_gap[str(far.pk)] == found.longest_gap[str(far.pk)] == 1
    assert found.due - day_before.due < day_before.due


def test_before_the_first_day_of_the_record_nothing_was_due(w: SimpleNamespace) -> None:
    first = Day.objects.filter(course=w.course).order_by("date")[0].date

    assert counted(w, days=1).first == first
    assert isinstance(complete_of(w.course, FIRST, first - timedelta(days=1), at=w.t(DAY)).found, Note)


def test_the_page_says_it_in_words(w: SimpleNamespace, as_one: Any) -> None:
    make.open_lines(w, at=w.t(30))
    w.clock.move_to(w.t(DAY + 30))
    found = counted(w, days=1)

    html = as_one("auditor").get(reverse("reports:sample", args=[w.course.pk])).content.decode()

    assert f"Of {figures(found).due} sheets and test rides that were due" in html
    assert all(sentence in html for sentence in found.sentences)
