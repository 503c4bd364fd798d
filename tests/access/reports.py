"""Who may open which page of reports."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from unittest import mock

from accounts.policy import Right
from courses.models import Component, Place
from inspections import actions
from inspections.models import Finding, Paper, SignOff
from inspections.picture import picture_of
from reports.actions import issue_day_sheet
from reports.day_links import give_link
from reports.exports import EXPORTS
from reports.forms import field_name
from reports.sample import newest_entry
from tests import make
from tests.access.table import PUBLIC, Row, World


def build(w: World) -> None:
    """Sign the day with every line closed, which is always possible, and keep its day sheet."""
    founder = make.deed(make.founder_of(w.operator), at=w.at)
    w.all_lines = list(Place.objects.filter(course=w.course, kind="line"))
    entry = actions.sign_off(
        w.course,
        decisions={str(one.pk): "closed" for one in w.all_lines},
        meaning="Closed.",
        seen_revision=0,
        deed=founder,
    )
    signed = SignOff.objects.select_related("day__course__operator__log").get(day__course=w.course, seq=entry.seq)
    w.paper = issue_day_sheet(signed, deed=founder)
    w.link = give_link(w.course, w.at.date(), days=3, whom="The inspector", deed=founder.part("link"))
    # A card hangs at the launch for everybody who works there.
    actions.record_paper(w.course, kind=Paper.Kind.LAUNCH_CARD, number="15-1", pdf=b"%PDF-1.7 card", date="2026-06-15",
                         sign_off=signed, place=w.line, deed=founder.part("card"))  # fmt: skip
    w.card = Paper.objects.get(kind=Paper.Kind.LAUNCH_CARD)
    opened = actions.open_finding(
        picture_of(w.course, at=w.at), w.line, title="Rust", severity="major", deed=founder.part("rust")
    )
    w.rust = Finding.objects.get(course=w.course, seq=opened.seq)
    # No term is over in this world: what is asked for here is asked for as if none had to be.
    noted = actions.open_finding(
        picture_of(w.course, at=w.at), w.line, title="Rust", severity="minor", text="A note.", deed=founder.part("note")
    )
    w.note = noted.record["act"]["note"]
    with mock.patch("inspections.terms.years", return_value=0):
        later = make.deed(w.manager, at=w.at + timedelta(days=1))
        w.asked = actions.ask_erasure(
            w.operator, {"notes": [w.note]}, grounds="over", reason="Its term is over.", deed=later
        )


def _day(w: World) -> dict[str, Any]:
    return {"on": w.at.date()}


def _link(w: World) -> dict[str, Any]:
    return {"text": w.link}


def _paper(w: World) -> dict[str, Any]:
    return {"paper": w.paper.pk}


def _card(w: World) -> dict[str, Any]:
    return {"paper": w.card.pk}


def _component(w: World) -> dict[str, Any]:
    return {"component": Component.objects.filter(course=w.course).first().pk}  # type: ignore[union-attr]


def _the_line(w: World) -> dict[str, Any]:
    return {"line": w.line.pk}


def _range(w: World) -> dict[str, Any]:
    return {"first": "2026-06-01", "last": "2026-06-30"}


def _sample(w: World) -> dict[str, Any]:
    return {**_range(w), "what": "days", "share": "5", "seed": "larch 7", "upto": newest_entry(w.course)}


def _export(what: str) -> Any:
    return lambda w: {"what": what}


def _closed(w: World) -> dict[str, Any]:
    return {"password": make.WORD, "seen_revision": "1", **{field_name(one): "closed" for one in w.all_lines}}


def _asked(w: World) -> dict[str, Any]:
    return {"seq": w.asked.seq}


def _asking(w: World) -> dict[str, Any]:
    # Too early, so the form comes back and says so.
    return {"password": make.WORD, "grounds": "over", "reason": "Its term is over."}


READ = Right.READ_HISTORY

ROWS: list[Row] = [
    Row("reports:sign", Right.SIGN_OFF),
    Row("reports:sign", Right.SIGN_OFF, post=_closed),
    Row("reports:sign_paper", Right.SIGN_OFF),
    Row("reports:sign_paper", Right.SIGN_OFF, ok=200, post=lambda w: {"password": make.WORD}),
    Row("reports:calendar", READ),
    Row("reports:day", READ, kwargs=_day),
    Row("reports:day_sheets", READ),
    Row("reports:last_sheets", READ),
    Row("reports:day_link", Right.SIGN_OFF, kwargs=_day),
    Row("reports:day_link", Right.SIGN_OFF, kwargs=_day, ok=200, post=lambda w: {"whom": "Inspector", "days": "3"}),
    Row("reports:linked_day", PUBLIC, kwargs=_link),
    Row("reports:linked_paper", PUBLIC, kwargs=lambda w: {**_link(w), **_paper(w)}),
    Row("reports:components", READ),
    Row("reports:component", READ, kwargs=_component),
    Row("reports:component_paper", READ, kwargs=_component),
    Row("reports:parts_ahead", READ),
    Row("reports:parts_ahead_table", READ),
    Row("reports:stock_table", READ),
    Row("reports:labels", Right.READ_SETUP),
    Row("reports:label_sheet", Right.READ_SETUP, query=lambda w: {"size": "a4-21", "first": "1", "what": "parts"}),
    Row("reports:sample", READ),
    Row("reports:sample", READ, query=_sample),
    Row("reports:sample_table", READ, query=_sample),
    Row("reports:hints", Right.SIGN_OFF),
    Row("reports:calibration", Right.READ_SETUP, kwargs=_the_line),
    Row("reports:rides", READ, kwargs=_the_line),
    Row("reports:mechanics", Right.READ_SETUP, kwargs=_the_line),
    Row("reports:entries", READ),
    Row("reports:entry", READ, kwargs=lambda w: {"seq": 0}),
    Row("reports:erasures", READ),
    Row("reports:ask_person", Right.FORGET),
    Row("reports:ask_person", Right.FORGET, ok=200, post=lambda w: {**_asking(w), "person": w.technician.ref}),
    Row("reports:ask_one", Right.FORGET, kwargs=lambda w: {"what": "note", "digest": w.note}),
    Row("reports:ask_one", Right.FORGET, ok=200, kwargs=lambda w: {"what": "note", "digest": w.note}, post=_asking),
    Row("reports:erasure", Right.FORGET, kwargs=_asked),
    Row("reports:erasure", Right.FORGET, ok=200, kwargs=_asked, post=lambda w: {"password": make.WORD, "sure": "on"}),
    Row("reports:withdraw_erasure", Right.FORGET, kwargs=_asked),
    Row("reports:withdraw_erasure", Right.FORGET, kwargs=_asked, post=lambda w: {"password": make.WORD}),
    Row("reports:states", READ),
    Row("reports:bundle", READ),
    Row("reports:bundle", READ, ok=200, post=lambda w: {"what": "all"}),
    Row("reports:verifier", READ),
    Row("reports:verify", PUBLIC),
    Row("reports:verify_program", PUBLIC),
    Row("reports:exports", READ),
    *(Row("reports:export", READ, kwargs=_export(what), query=_range) for what in EXPORTS),
    Row("reports:paper", READ, kwargs=_paper),
    Row("reports:paper", READ, kwargs=_card, but={"guide": 200}),
    Row("reports:blank_sheets", Right.INSPECT),
    Row("reports:tag_stock", Right.SIGN_OFF),
    Row("reports:tag_stock", Right.SIGN_OFF, post=lambda w: {"count": "10"}),
    # A finding that takes nothing out of service has no tag: one is sent back to it.
    Row("reports:tag", Right.WITHDRAW, kwargs=lambda w: {"finding": w.rust.pk}, post=lambda w: {}),
]
