"""The measuring tool behind each figure: chosen once, remembered, in the record. Common practice, no source."""

import json
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from inspections.entries import act_of, gauges_of
from inspections.models import Sheet, Snapshot
from inspections.tools import tools_of
from tests import make
from tests.inspections.pages import posted, sheet_url, text, url

SPRING = "BS-1@primary-1"

pytestmark = pytest.mark.usefixtures("clock")


def signed_with(w: SimpleNamespace, client: Any, **fields: str) -> Sheet:
    client.post(sheet_url(w), {"sign": "1", **posted(w), **fields})
    return Sheet.objects.latest("seq")


def gauge_on(w: SimpleNamespace, sheet: Sheet) -> str:
    return gauges_of(act_of(w.operator.log, sheet.seq)).get(SPRING, "")


def test_every_tool_that_the_register_names_can_be_chosen(w: SimpleNamespace, as_: Any) -> None:
    # As tests/make.py enters them; "plumb line" is a platform's and "calliper 1" the cable's.
    tools = tools_of(make.picture(w, w.t(0)).setup)

    page = text(as_("technician").get(sheet_url(w)))

    assert tools == ("calliper 1", "plumb line", "rule 1", "tape 1")
    assert all(f"<option>{tool}</option>" in page for tool in tools if tool not in {"rule 1", "tape 1"})
    assert "The first figure of this part was read with rule 1." in page


def test_the_tool_of_the_last_sheet_is_taken_again_by_the_same_person_only(
    w: SimpleNamespace, as_: Any, clock: Any
) -> None:
    signed_with(w, as_("technician"), **{f"gauge-{SPRING}": "calliper 1"})
    clock.move_to(w.t(0) + timedelta(days=7))

    mine, other = (text(as_(who).get(sheet_url(w))) for who in ("technician", "mate"))

    assert "Measured with calliper 1" in mine
    assert "Measured with calliper 1" not in other
    assert "Measured with rule 1" in other


def test_another_tool_may_be_typed_and_stands_beside_the_figure(w: SimpleNamespace, as_: Any) -> None:
    sheet = signed_with(w, as_("technician"), **{f"gauge-{SPRING}": "rule 1", f"tool-{SPRING}": " rule 9 "})

    assert gauge_on(w, sheet) == "rule 9"
    assert "Measured with rule 9" in text(as_("auditor").get(url(w, "signed", sheet.pk)))


def test_not_said_stays_not_said(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    client.post(sheet_url(w), {"save": "1", **posted(w), f"gauge-{SPRING}": ""})

    assert "Measured with: not said" in text(client.get(sheet_url(w)))
    assert gauge_on(w, signed_with(w, client, **{f"gauge-{SPRING}": ""})) == ""


def test_a_correction_keeps_the_tool(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    sheet = signed_with(w, client, **{f"gauge-{SPRING}": "rule 9"})

    page = text(client.post(url(w, "correct", sheet.pk), follow=True))

    assert "Measured with rule 9" in page


def test_what_the_gauge_could_hide_is_watched(w: SimpleNamespace, as_: Any) -> None:
    # The band before a limit is engineering.limits' (at most a fifth of the allowance: judgement, no source).
    items = make.picture(w, w.t(0)).section(w.house, "house").items
    wind = next(item["key"] for item in items if item["measures"].startswith("weather.wind"))
    own = make.picture(w, w.t(0)).setup.limits(w.house)["items"]
    most = own[wind]["rules"][0]["params"]["limit"]

    def verdict() -> tuple[str, str]:
        near = f"{float(most) - 0.1:.1f}"
        fields = {"item": wind, f"text-{wind}": near}
        answer = as_("technician").post(
            url(w, "sheet", w.house.pk, "house"), fields, headers={"accept": "application/json"}
        )
        found = answer.json()["item"][wind]
        return found["verdict"], found["sentence"]

    assert verdict()[0] == "ok"
    make.settle(w, "limits", {"items": {**own, wind: {**own[wind], "gauge_u": "0.3"}}}, place=w.house)

    now, sentence = verdict()
    assert now == "watch"
    assert "the gauge could hide it" in sentence


def test_the_picture_of_the_day_that_is_signed_names_the_tool_beside_the_figure(w: SimpleNamespace, as_: Any) -> None:
    signed_with(w, as_("technician"), **{f"gauge-{SPRING}": "rule 9"})
    for line in w.lines[1:]:
        make.sign(w, line, "landing", at=w.t(1), by=w.mate)
    make.inspect(w, at=w.t(1), by=w.mate, but=("landing",))
    make.open_lines(w, at=w.t(2), by=w.manager)

    kept = json.loads(bytes(Snapshot.objects.get().data))

    named = {
        reading["key"]: reading["gauge"]
        for place in kept["places"]
        for sheet in place["sheets"]
        for reading in sheet["readings"]
        if "gauge" in reading
    }
    assert named == {SPRING: "rule 9"}
