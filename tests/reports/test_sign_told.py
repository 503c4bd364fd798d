"""What is told besides the decision: why a line was not opened, how old the wind is, what changed since the signing.

The figures are judgement of the makers, no outside source.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse

from courses import actions as setup
from inspections import actions
from inspections.facts import line_statuses
from inspections.models import Closing, Finding, SignOff
from reports.forms import field_name
from reports.resolve import day_sheet_data
from tests import make
from tests.inspections import steps
from tests.inspections.pages import text


def words(w: SimpleNamespace, minutes: float) -> list[str]:
    return [status.word for status in line_statuses(make.picture(w, w.t(minutes)))]


def page(w: SimpleNamespace, client: Any, name: str, minutes: float, *more: Any) -> str:
    w.clock.move_to(w.t(minutes))
    return text(client.get(reverse(name, args=[w.course.pk, *more])))


def test_why_a_ready_line_was_not_opened_stands_in_the_record(w: SimpleNamespace) -> None:
    entry = actions.open_finding(
        make.picture(w, w.t(6)), w.line, title="Paint", severity="minor", deed=make.deed(w.technician, at=w.t(6))
    )
    finding = Finding.objects.get(course=w.course, seq=entry.seq)
    steps.work(w, finding, at=7, by=w.manager)

    make.open_lines(w, at=w.t(10), line1="closed")

    signed = SignOff.objects.get(day__course=w.course)
    why = ["Nothing held it, but who signed had inspected or worked on it that day."]
    assert signed.lines[str(w.line.pk)]["reasons"] == why
    assert day_sheet_data(signed)["lines"][0]["reasons"] == why


@pytest.mark.parametrize(("minutes", "told"), [(60, False), (70, True)])
def test_a_wind_that_was_read_long_ago_is_said_before_signing(
    w: SimpleNamespace, as_one: Any, minutes: int, told: bool
) -> None:
    html = page(w, as_one("manager"), "reports:sign", minutes)

    assert "Wind last read" in html
    assert ("Have it read again before you open a line." in html) is told


def test_a_stricter_limit_during_the_day_says_that_the_launch_card_is_old(w: SimpleNamespace, as_one: Any) -> None:
    make.open_lines(w, at=w.t(10))
    assert "the launch card says" not in page(w, as_one("technician"), "inspections:board", 20)

    document = make.picture(w, w.t(20)).setup.document(w.line)
    make.settle(w, "line", {**document, "mass_max_kg": "110"}, at=w.t(30), place=w.line)

    html = page(w, as_one("technician"), "inspections:board", 31)
    assert html.count("the launch card says 35 – 115 kg") == 1
    assert "35 – 110 kg" in html
    make.open_lines(w, at=w.t(40))
    assert "the launch card says" not in page(w, as_one("technician"), "inspections:board", 41)
    # A stricter wind is named, where the weights are the same.
    wind = {**document["wind"], "cross_mps": "7"}
    make.settle(w, "line", {**document, "mass_max_kg": "110", "wind": wind}, at=w.t(50), place=w.line)
    html = page(w, as_one("technician"), "inspections:board", 51)
    assert "the launch card says 35 – 110 kg, cross wind ≤ 8 m/s." in html


def test_closing_the_day_closes_the_lines_until_somebody_signs_again(w: SimpleNamespace) -> None:
    make.open_lines(w, at=w.t(10), line2="closed")
    assert words(w, 20) == ["open", "closed"]
    actions.close_day(make.picture(w, w.t(30)), riders={}, deed=make.deed(w.technician, at=w.t(30)))
    assert words(w, 31) == ["closed", "closed"]

    make.open_lines(w, at=w.t(40))
    assert words(w, 41) == ["open", "open"]


def test_a_hold_on_a_line_that_is_closed_is_said_all_the_same(w: SimpleNamespace) -> None:
    make.open_lines(w, at=w.t(10), line2="closed")
    actions.call_hold(make.picture(w, w.t(20)), w.lines[1], cause="object", deed=make.deed(w.guide, at=w.t(20)))

    assert words(w, 21) == ["open", "held"]


def test_nobody_closes_the_day_with_no_count_by_a_slip(w: SimpleNamespace, as_one: Any) -> None:
    make.open_lines(w, at=w.t(10))
    w.clock.move_to(w.t(30))
    client, address = as_one("technician"), reverse("inspections:close", args=[w.course.pk])

    assert "or say that nobody counted." in text(client.post(address, {"text": ""}))
    assert not Closing.objects.filter(day__course=w.course, closed_at__gte=w.t(0)).exists()
    client.post(address, {f"riders-{w.line.pk}": "1 240", "text": ""})
    assert Closing.objects.latest("seq").riders == {str(w.line.pk): 1240}
    client.post(address, {"uncounted": "on"})
    assert Closing.objects.latest("seq").riders == {}


def test_a_change_that_waits_is_told_to_who_may_confirm_it(w: SimpleNamespace, as_one: Any) -> None:
    document = make.picture(w, w.t(20)).setup.document(w.line)
    setup.propose(
        w.course, "line", {**document, "mass_max_kg": "120"}, source="Letter", place=w.line,
        deed=make.deed(w.engineer, at=w.t(20)),
    )  # fmt: skip

    assert "waits for somebody to confirm it" in page(w, as_one("manager"), "inspections:board", 21)
    assert "waits for somebody to confirm it" not in page(w, as_one("technician"), "inspections:board", 21)


def test_with_an_old_wind_a_line_is_opened_only_by_whoever_was_told_it_anew(w: SimpleNamespace, as_one: Any) -> None:
    w.clock.move_to(w.t(70))
    manager = as_one("manager")
    address = reverse("reports:sign", args=[w.course.pk])
    chosen = {field_name(line): "open" for line in w.lines} | {"seen_revision": "0", "password": make.WORD}

    refused = manager.post(address, chosen).content.decode()
    assert "Have the wind read before you open a line, or be told it by radio now." in refused
    assert not SignOff.objects.exists()

    manager.post(address, {**chosen, "wind_told": "on"})
    signed = SignOff.objects.get()
    said = "The wind was read long before. The manager had ticked: I was told the wind by radio just now."
    assert said in " ".join(day_sheet_data(signed)["sign_off"]["phones"])
    assert said in manager.get(reverse("reports:day", args=[w.course.pk, w.at.date()])).content.decode()


def test_with_an_old_wind_every_line_can_be_closed(w: SimpleNamespace, as_one: Any) -> None:
    w.clock.move_to(w.t(70))
    chosen = {field_name(line): "closed" for line in w.lines} | {"seen_revision": "0", "password": make.WORD}
    as_one("manager").post(reverse("reports:sign", args=[w.course.pk]), chosen)
    assert SignOff.objects.exists()
