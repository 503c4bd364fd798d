"""The tag code of the place where one stands: once, never required, recorded as scanned or typed.

The project's own decision; no outside source.
"""

from types import SimpleNamespace
from typing import Any

import pytest

from courses import actions as setup
from courses.models import Component, Placement
from inspections.entries import act_of
from inspections.here import read_code
from inspections.models import Draft, Sheet
from tests import make
from tests.inspections.pages import posted, sheet_url, text, url

pytestmark = pytest.mark.usefixtures("clock")


def note(w: SimpleNamespace, client: Any, code: str, how: str = "typed", section: str = "landing", **more: str) -> str:
    return text(client.post(sheet_url(w, section), {"here": "1", "here-code": code, "here-how": how, **more}))


def sign(w: SimpleNamespace, client: Any, section: str = "landing") -> Sheet:
    client.post(sheet_url(w, section), {"sign": "1", **posted(w, section)})
    return Sheet.objects.latest("seq")


def here_of(w: SimpleNamespace, sheet: Sheet) -> dict[str, str]:
    return act_of(w.operator.log, sheet.seq).get("here", {})


@pytest.mark.parametrize(("how", "said"), [("scanned", "scanned"), ("typed", "typed in")])
def test_a_code_of_this_place_is_recorded_as_scanned_or_typed(
    w: SimpleNamespace, as_: Any, how: str, said: str
) -> None:
    client = as_("technician")

    page = note(w, client, " pf-2 ", how)

    assert f"Tag code PF-2 {said} here at 07:30." in page
    sheet = sign(w, client)
    assert here_of(w, sheet) == {"code": "PF-2", "how": how, "at": "2026-06-15T05:30:00Z"}
    assert f"PF-2, {said}, 07:30" in text(as_("auditor").get(url(w, "signed", sheet.pk)))


def test_it_is_never_required_and_nothing_is_claimed_without_it(w: SimpleNamespace, as_: Any) -> None:
    sheet = sign(w, as_("technician"))

    assert "here" not in act_of(w.operator.log, sheet.seq)
    assert "Tag code on the spot" not in text(as_("auditor").get(url(w, "signed", sheet.pk)))


def test_once_at_a_platform_counts_for_every_sheet_there_and_for_no_other(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    note(w, client, "PF-2")

    platform = text(client.get(url(w, "sheet", w.platforms[1].pk, "platform")))
    elsewhere, mate = text(client.get(sheet_url(w, "launch"))), text(as_("mate").get(sheet_url(w)))

    assert "Tag code PF-2 typed in here" in platform
    assert "Tag code of this place (optional)" in elsewhere
    assert "Tag code of this place (optional)" in mate
    assert here_of(w, sign(w, client, "launch")) == {}


def test_what_was_typed_about_the_items_is_kept_when_a_code_is_noted(w: SimpleNamespace, as_: Any) -> None:
    spring = "BS-1@primary-1"
    note(w, as_("technician"), "PF-2", **{f"text-{spring}": "599"})

    assert Draft.objects.get().content[spring]["text"] == "599"


def test_a_code_of_another_place_is_answered_with_where_it_belongs(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")

    for code, where in (("TR-01", "Gear store, Rack A"), ("PF-1", "Platform 1 Platform 1"), ("WS-1", "Course house")):
        page = note(w, client, code)
        assert f"{code} is not from here: it is fitted at {where}. Nothing is noted." in page
    assert here_of(w, sign(w, client)) == {}


def test_each_end_of_a_line_has_its_own_codes(w: SimpleNamespace) -> None:
    def tag(slot: str) -> str:
        return Placement.objects.get(place=w.line, slot=slot, until__isnull=True).component.tag

    now = make.picture(w, w.t(0)).setup
    found = {
        (section, slot): read_code(now, w.line, section, tag(slot))[0] == tag(slot)
        for section in ("launch", "landing")
        for slot in ("end-launch", "end-landing", "primary-1", "cable")
    }

    assert {spot for spot, is_here in found.items() if not is_here} == {
        ("launch", "end-landing"), ("launch", "primary-1"), ("landing", "end-launch"),
    }  # fmt: skip


def test_a_code_that_nobody_knows_is_retired_or_empty_is_said_so(w: SimpleNamespace) -> None:
    now = make.picture(w, w.t(0)).setup
    loose = setup.add_component(w.course, kind="other", tag="XX-9", label="spare", deed=make.deed(w.manager))

    def said(code: str) -> str:
        return read_code(now, w.line, "landing", code)[1]

    assert "No part of this course has the code ZZ-1." in said("ZZ-1")
    assert "in the register, but fitted nowhere" in said("xx-9")
    assert "Type the code" in said("  ")
    Component.objects.filter(pk=loose.pk).update(retired_at=w.t(0))
    assert "XX-9 was retired on 15 June 2026" in said("XX-9")


def test_what_is_typed_in_from_paper_claims_no_code(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    note(w, client, "PF-2")

    assert "here-code" not in text(client.get(f"{sheet_url(w)}?paper=1"))


@pytest.mark.parametrize("code", ["<b>x</b>", "x" * 500, "'; drop table", "\u202e"])
def test_nonsense_is_said_back_as_text(w: SimpleNamespace, as_: Any, code: str) -> None:
    page = note(w, as_("technician"), code)

    assert "Nothing is noted." in page
    assert "<b>x</b>" not in page
    assert "x" * 31 not in page.replace("x" * 500, "")
