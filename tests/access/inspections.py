"""Who may open which page of the running day, and do what there.

Where a deed needs more than its right (a second person, work that was looked at again), the row's post is one that
the page answers with what is missing: 200, and nobody without the right gets that far.
"""

from __future__ import annotations

from datetime import timedelta
from io import BytesIO
from typing import Any
from uuid import UUID, uuid4

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from accounts.policy import Right
from courses import actions as setup
from courses.models import Component, Place
from inspections import actions
from inspections.models import Finding, Hold, Phone
from inspections.picture import Picture, picture_of
from inspections.tags import token_of
from tests import make
from tests.access.table import PUBLIC, Row, World
from tests.courses.build import component


def build(w: World) -> None:
    founder = make.founder_of(w.operator)
    w.store = Place.objects.get(course=w.course, kind="store")
    for slot, tag in (("9", "HA-91"), ("9", "HA-92")):
        setup.fit(component(w.course, "harness", tag), w.store, slot, deed=make.deed(founder))
    w.finding = _opened(w, w.line, title="Cover plate loose", severity="major")
    w.watch = _opened(w, w.line, title="Paint flakes", severity="minor", is_watch=True)
    harness = Component.objects.get(course=w.course, tag="HA-92")
    w.gear = _opened(w, w.store, title="Strap frayed", severity="major", component=harness, slot="9")
    actions.call_hold(_picture(w), w.line, cause="object", deed=_deed(w))
    w.hold = Hold.objects.get()
    w.sheet = _signed(w)
    actions.say_hello(w.technician, uuid4(), held=_hello(w)["held"], has=None, at=w.at)
    w.phone = Phone.objects.get()
    # Set aside already: the day is signed beside these rows, and once more is no other.
    actions.set_aside(w.course, w.phone, w.phone.owes[0]["id"], deed=_deed(w))
    w.draft = actions.draft_for(_picture(w), w.line.landing, "platform", deed=_deed(w, "technician"))
    picture = BytesIO()
    Image.new("RGB", (8, 8)).save(picture, "JPEG")
    w.picture = picture.getvalue()
    w.photo = setup.store_bytes(
        w.operator, w.picture, kind="photo", media_type="image/jpeg", deed=make.deed(founder)
    ).sha256


def _picture(w: World) -> Picture:
    return picture_of(w.course, at=w.at)


def _deed(w: World, who: str = "") -> Any:
    return make.deed(getattr(w, who) if who else make.founder_of(w.operator), at=w.at)


def _opened(w: World, place: Place, **about: Any) -> Finding:
    entry = actions.open_finding(_picture(w), place, deed=_deed(w), **about)
    return Finding.objects.get(seq=entry.seq, course=w.course)


def _signed(w: World) -> Any:
    """Sign a platform's sheet on which everything is left undone for a reason, which is always allowed."""
    picture = _picture(w)
    [section] = picture.sections(picture.setup.places[w.line.launch_id])
    deed = _deed(w, "technician")
    draft = actions.draft_for(picture, w.line.launch, section.name, deed=deed)
    for item in section.items:
        draft = actions.keep_answer(draft, item["key"], {"mark": "not_done", "reason": "In the clouds."}, at=w.at)
    draft = type(draft).objects.select_related("place__course__operator__log").get(pk=draft.pk)
    actions.sign_sheet(draft, meaning="I looked.", deed=deed)
    return deed.id


def _line(w: World) -> dict[str, Any]:
    return {"line": w.line.pk}


def _finding(w: World) -> dict[str, Any]:
    return {"finding": w.finding.pk}


def _watch(w: World) -> dict[str, Any]:
    return {"finding": w.watch.pk}


def _gear(w: World) -> dict[str, Any]:
    return {"finding": w.gear.pk}


def _hold(w: World) -> dict[str, Any]:
    return {"hold": w.hold.pk}


def _rack(w: World) -> dict[str, Any]:
    return {"place": w.store.pk, "slot": "9"}


def _platform(w: World) -> dict[str, Any]:
    return {"place": w.line.landing_id, "section": "platform"}


def _sheet(w: World) -> dict[str, Any]:
    return {"sheet": w.sheet}


def _draft(w: World) -> dict[str, Any]:
    return {"draft": w.draft.pk}


def _photo_file(w: World) -> dict[str, Any]:
    return {"photo": SimpleUploadedFile("photo.jpg", w.picture, "image/jpeg")}


def _photo(w: World) -> dict[str, Any]:
    return {"sha256": w.photo}


def _label(w: World) -> dict[str, Any]:
    return {"token": token_of(w.gear.component.pk)}


def _nothing(w: World) -> dict[str, Any]:
    return {}


def _new_finding(w: World) -> dict[str, Any]:
    return {"place": str(w.line.pk), "title": "Bolt missing", "severity": "major"}


def _out(w: World) -> dict[str, Any]:
    return {"spot": f"{w.line.pk}||", "title": "Cable kinked"}


def _note(w: World) -> dict[str, Any]:
    return {"text": "Seen from the platform."}


def _repair(w: World) -> dict[str, Any]:
    return {"what": "repair", "text": "Tightened."}


def _sound(w: World) -> dict[str, Any]:
    return {"mark": "sound"}


def _password(w: World) -> dict[str, Any]:
    return {"password": make.WORD, "text": "Cut up."}


def _until(w: World) -> dict[str, Any]:
    return {"until": (w.at + timedelta(days=5)).date().isoformat(), "text": "No load on it."}


def _object(w: World) -> dict[str, Any]:
    return {"cause": "hard_stop", "line": str(w.line.pk)}


def _looked(w: World) -> dict[str, Any]:
    return {"looked": "on", "untold": "on"}


def _told(w: World) -> dict[str, Any]:
    return {"where": "launch", "text": "Gesa"}


def _riders(w: World) -> dict[str, Any]:
    return {f"riders-{w.line.pk}": "41"}


def _counted(w: World) -> dict[str, Any]:
    return {"count": "2"}


SEE, INSPECT, WITHDRAW, WORK, RELEASE = Right.SEE, Right.INSPECT, Right.WITHDRAW, Right.WORK, Right.RELEASE
HISTORY = Right.READ_HISTORY


def _hello(w: World) -> dict[str, Any]:
    held = {"id": str(uuid4()), "kind": "hold", "title": "Hold", "page": f"/course/{w.course.pk}/walk/"}
    return {"phone": str(uuid4()), "held": [held], "has": ""}


def _owed(w: World) -> dict[str, Any]:
    return {"phone": w.phone.pk, "act": UUID(w.phone.owes[0]["id"])}


def _phone(w: World) -> dict[str, Any]:
    return {"phone": w.phone.pk}


def _all_owed(w: World) -> dict[str, Any]:
    return {"asked": "on", "text": "Ruben", "shown": w.phone.owes[0]["id"]}


ROWS = [
    Row("inspections:hello", PUBLIC),
    Row("inspections:hello", PUBLIC, post=_hello, as_json=True, ok=200),
    Row("inspections:worker", PUBLIC),
    Row("inspections:manifest", PUBLIC),
    Row("inspections:no_signal", PUBLIC),
    Row("inspections:today", SEE),
    Row("inspections:board", SEE),
    Row("inspections:board_part", SEE),
    Row("inspections:walk", SEE),
    Row("inspections:line", SEE, kwargs=_line),
    Row("inspections:tag", Right.READ_SETUP, ok=302, kwargs=_label),
    Row("inspections:ride", INSPECT, kwargs=_line),
    Row("inspections:ride", INSPECT, kwargs=_line, post=_nothing, ok=200),
    Row("inspections:rack", INSPECT, kwargs=_rack),
    Row("inspections:rack", INSPECT, kwargs=_rack, post=_counted),
    Row("inspections:sheet", INSPECT, kwargs=_platform),
    Row("inspections:sheet", INSPECT, kwargs=_platform, post=_nothing, ok=200),
    Row("inspections:draft", INSPECT, kwargs=_draft, but={"engineer": 404}),
    Row("inspections:draft", INSPECT, kwargs=_draft, post=_nothing, ok=200, but={"engineer": 404}),
    Row("inspections:signed", HISTORY, kwargs=_sheet, but={"guide": 200}),
    Row("inspections:correct", INSPECT, kwargs=_sheet, post=_nothing),
    Row("inspections:photo_sent", Right.REPORT, ok=200, post=_photo_file),
    Row("inspections:photo", HISTORY, kwargs=_photo, but={"guide": 200}),
    Row("inspections:findings", SEE),
    Row("inspections:finding", Right.READ_FINDING, kwargs=_finding),
    Row("inspections:open_finding", WITHDRAW),
    Row("inspections:open_finding", WITHDRAW, post=_new_finding),
    Row("inspections:withdraw", WITHDRAW),
    Row("inspections:withdraw", WITHDRAW, post=_out),
    Row("inspections:finding_add", WITHDRAW, kwargs=_finding),
    Row("inspections:finding_add", WITHDRAW, kwargs=_finding, post=_note),
    Row("inspections:finding_work", WORK, kwargs=_finding),
    Row("inspections:finding_work", WORK, kwargs=_finding, post=_repair),
    Row("inspections:finding_again", WORK, kwargs=_finding),
    Row("inspections:finding_again", WORK, kwargs=_finding, post=_sound),
    Row("inspections:finding_release", RELEASE, kwargs=_finding),
    Row("inspections:finding_release", RELEASE, kwargs=_finding, post=_password, ok=200),
    Row("inspections:finding_watch", Right.DECIDE_WATCH, kwargs=_watch),
    Row("inspections:finding_watch", Right.DECIDE_WATCH, kwargs=_watch, post=_until),
    Row("inspections:finding_rule", Right.RULE, kwargs=_finding),
    Row("inspections:finding_rule", Right.RULE, kwargs=_finding, post=_until),
    Row("inspections:finding_retire", RELEASE, kwargs=_gear),
    Row("inspections:finding_retire", RELEASE, kwargs=_gear, post=_password, ok=200),
    Row("inspections:hold", Right.REPORT),
    Row("inspections:hold", Right.REPORT, post=_object),
    Row("inspections:stopwatch", INSPECT, kwargs=_line),
    Row("inspections:lift", Right.SEE, kwargs=_hold),
    Row("inspections:lift", Right.LIFT, kwargs=_hold, post=_looked),
    Row("inspections:renew", Right.HOLD, kwargs=_hold, post=_nothing),
    Row("inspections:tell", Right.HOLD, kwargs=_hold, post=_told),
    Row("inspections:phones", Right.SIGN_OFF),
    Row("inspections:phone_aside", Right.SIGN_OFF, kwargs=_owed),
    Row("inspections:phone_aside", Right.SIGN_OFF, kwargs=_owed, post=lambda w: {"asked": "on", "text": "Ruben"}),
    Row("inspections:phone_all_aside", Right.SIGN_OFF, kwargs=_phone),
    Row("inspections:phone_all_aside", Right.SIGN_OFF, kwargs=_phone, post=_all_owed),
    Row("inspections:close", Right.CLOSE),
    Row("inspections:close", Right.CLOSE, post=_riders),
]
