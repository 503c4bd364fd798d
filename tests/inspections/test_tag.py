"""The address on a label: it leads to what is to be done today, notes nothing by itself, and tells strangers nothing.

The project's own decision; no outside source.
"""

from __future__ import annotations

import json
import re
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from courses import actions as setup
from courses.models import Component, Place
from inspections.here import read_code
from inspections.models import Draft
from inspections.tags import token_of
from ledger.models import Entry
from tests import make
from tests.inspections.pages import posted, sheet_url, text, url

pytestmark = pytest.mark.usefixtures("clock")


def address(thing: Any) -> str:
    return reverse("inspections:tag", args=[token_of(thing.pk)])


def part(tag: str) -> Component:
    return Component.objects.get(tag=tag)


def test_a_part_leads_to_todays_sheet_with_its_code_in_the_field_and_nothing_noted(
    w: SimpleNamespace, as_: Any
) -> None:
    client, before = as_("technician"), Entry.objects.count()
    answer = client.get(address(part("BP-1P1")))
    assert answer["Location"] == f"{sheet_url(w)}?tag=BP-1P1"
    assert "no-store" in answer["Cache-Control"]
    page = text(client.get(answer["Location"]))
    assert 'name="here-code" id="id_here-code" form="sheet" maxlength="30"' in page
    assert 'value="BP-1P1"' in page
    assert 'name="here-how" value="scanned"' in page
    assert "Tag code of this place (optional)" in page
    assert (Draft.objects.count(), Entry.objects.count()) == (0, before)
    # One tap notes it.
    noted = text(client.post(answer["Location"], {"here": "1", "here-code": "BP-1P1", "here-how": "scanned"}))
    assert "Tag code BP-1P1 scanned here at 07:30." in noted
    assert 'value="scanned"' not in text(client.get(answer["Location"]))


def test_a_platform_leads_to_its_sheet_and_a_line_to_its_page(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    platform = w.platforms[1]
    led = client.get(address(platform))["Location"]
    assert led == f"{url(w, 'sheet', platform.pk, 'platform')}?tag=Platform+2"
    noted = text(client.post(led, {"here": "1", "here-code": "Platform 2", "here-how": "scanned"}))
    assert "Tag code Platform 2 scanned here" in noted
    assert client.get(address(w.line))["Location"] == url(w, "line", w.line.pk)


def test_gear_leads_to_its_rack_and_what_is_signed_to_what_stands_there(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    assert client.get(address(part("HA-01")))["Location"] == url(w, "rack", w.store.pk, "B")
    client.post(sheet_url(w), {"sign": "1", **posted(w)})
    assert "/signed/" in client.get(address(part("BP-1P1")))["Location"]


def test_a_part_that_was_moved_leads_to_where_it_is_now_and_one_that_is_gone_to_its_page(
    w: SimpleNamespace, as_: Any
) -> None:
    client, spring = as_("technician"), part("BP-1P1")
    own = reverse("courses:component", args=[w.course.pk, spring.pk])
    setup.take_off(spring, deed=make.deed(w.technician, at=w.t(0)))
    assert client.get(address(spring))["Location"] == own
    other = Place.objects.filter(course=w.course, kind="platform").order_by("number")[0]
    setup.fit(spring, other, "platform", deed=make.deed(w.technician, at=w.t(0)))
    assert client.get(address(spring))["Location"].startswith(url(w, "sheet", other.pk, "platform"))
    Component.objects.filter(pk=spring.pk).update(retired_at=w.t(0), retired_why="worn")
    assert client.get(address(spring))["Location"] == own
    assert "Retired on 15 June 2026" in text(client.get(own))


@pytest.mark.parametrize("role", ["auditor", "guide", "manager"])
def test_who_only_reads_comes_to_the_page_of_the_part(w: SimpleNamespace, as_: Any, role: str) -> None:
    led = as_(role).get(address(part("BP-1P1")))["Location"]
    assert led == reverse("courses:component", args=[w.course.pk, part("BP-1P1").pk])


def test_what_a_phone_takes_along_leads_where_the_server_leads(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    client.post(sheet_url(w), {"sign": "1", **posted(w)})
    found = re.search(
        r'<script id="labels" type="application/json">([^<]*)</script>', text(client.get(url(w, "today")))
    )
    assert found is not None
    carried = json.loads(found[1])
    things = [*Component.objects.filter(placements__until=None), *Place.objects.filter(course=w.course)]
    led = {token_of(one.pk): client.get(address(one))["Location"] for one in things}
    own = {
        token: "?".join(filter(None, (carried["paths"][at], query))) for token, (at, query) in carried["labels"].items()
    }
    assert {token: led[token] for token in own} == own
    # What is not there leads to the page of the thing itself, which is not for the time without a signal.
    assert all("/set-up/" in where for token, where in led.items() if token not in own)
    assert len(own) > len(things) / 2


def test_strangers_learn_nothing(w: SimpleNamespace, as_: Any) -> None:
    nobody = Client().get(address(part("BP-1P1")))
    assert nobody["Location"].startswith(reverse("account_login"))
    assert w.course.name not in nobody["Location"]
    for token in (token_of(uuid4()), "x" * 22, "short", "ä" * 22):
        assert as_("technician").get(f"/tag/{token}/").status_code == 404
    w.people["technician"].roles.all().delete()
    assert as_("technician").get(address(part("BP-1P1"))).status_code == 404


def test_a_label_is_read_where_a_tag_code_is(w: SimpleNamespace) -> None:
    now = make.picture(w, w.t(0)).setup

    def read(thing: Any, host: str = "https://lines.example.org") -> tuple[str, str]:
        return read_code(now, w.line, "landing", f" {host}{address(thing)} ")

    assert read(part("BP-1P1")) == ("BP-1P1", "")
    assert read(w.platforms[1], "http://10.0.0.7:8000/under") == ("Platform 2", "")
    assert read(w.line) == ("Line 1", "")
    assert "TR-01 is not from here: it is fitted at Gear store, Rack A." in read(part("TR-01"))[1]
    assert "it is that of Platform 1" in read(w.platforms[0])[1]
    assert "of no part and no place of this course" in read(SimpleNamespace(pk=uuid4()))[1]
    Component.objects.filter(tag="TR-01").update(retired_at=w.t(0))
    loose = setup.add_component(w.course, kind="other", tag="XX-9", label="spare", deed=make.deed(w.manager))
    assert "XX-9 is in the register, but fitted nowhere." in read(loose)[1]
