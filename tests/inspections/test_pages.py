"""The pages of the running day as a browser asks for them: what they show, what they take, and how often they ask.

What is typed badly is common practice of the trade (comma, unit typed along, inches, a digit too many); no source.
"""

import re
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from courses import actions as setup
from courses.models import Placement
from inspections import actions
from inspections.actions.rides import ride_items
from inspections.models import Day, Draft, Finding, Hold, Reading, Ride, Sheet
from ledger.models import Entry
from tests import make
from tests.inspections.test_photos import jpeg

SPRING = "BS-1@primary-1"
LOOK = "TA-06@end-landing"
MOST_QUERIES = 25

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def as_(w: SimpleNamespace) -> Any:
    def log_in(role: str) -> Client:
        client = Client()
        client.force_login(w.people[role])
        return client

    return log_in


def url(w: SimpleNamespace, name: str, *more: Any) -> str:
    return reverse(f"inspections:{name}", args=[w.course.pk, *more])


def sheet_url(w: SimpleNamespace, section: str = "landing") -> str:
    return url(w, "sheet", w.line.pk, section)


def text(response: Any) -> str:
    return re.sub(r"\s+", " ", response.content.decode())


def posted(w: SimpleNamespace, section: str = "landing", **changed: str) -> dict[str, str]:
    """Return what a browser posts for a section with sound answers; ``changed`` by field name."""
    fields = {}
    for key, answer in make.answers(w, w.line, section, at=w.t(0)).items():
        if "text" in answer:
            fields[f"text-{key}"] = answer["text"]
        else:
            fields[f"mark-{key}"] = "sound"
    return {**fields, **changed}


# --- looking


@pytest.mark.parametrize("name", ["board", "board_part", "walk", "findings"])
def test_looking_writes_nothing(w: SimpleNamespace, as_: Any, name: str) -> None:
    before = (Day.objects.count(), Entry.objects.count(), Draft.objects.count())

    response = as_("technician").get(url(w, name))

    assert response.status_code == 200
    assert (Day.objects.count(), Entry.objects.count(), Draft.objects.count()) == before


def test_the_board_says_of_each_line_how_it_stands_and_why(w: SimpleNamespace, as_: Any) -> None:
    page = text(as_("guide").get(url(w, "board")))
    assert "0</b> of 2 lines open" in page
    assert "No good test ride with ballast today." in page

    make.inspect(w, at=w.t(0))
    make.open_lines(w, at=w.t(0), line2="closed")
    page = text(as_("guide").get(url(w, "board")))
    assert "1</b> of 2 lines open" in page
    assert "35 – 115 kg" in page
    assert "Wind last read" in page


def test_the_walk_names_every_sheet_that_is_due_and_every_ride(w: SimpleNamespace, as_: Any) -> None:
    page = as_("technician").get(url(w, "walk")).content.decode()

    for place, section in make.sections(w, at=w.t(0)):
        name, last = ("rack", section.removeprefix("rack:")) if section.startswith("rack:") else ("sheet", section)
        assert url(w, name, place.pk, last) in page
    for line in w.lines:
        assert url(w, "ride", line.pk) in page


# --- a sheet


def test_looking_at_a_sheet_makes_no_draft_and_typing_does(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    client.get(sheet_url(w))
    assert not Draft.objects.exists()

    client.post(sheet_url(w), {"save": "1", f"text-{SPRING}": "599"})
    assert Draft.objects.get().content[SPRING]["text"] == "599"
    assert not Sheet.objects.exists()
    assert 'value="599"' in client.get(sheet_url(w)).content.decode()


def test_a_sheet_is_signed(w: SimpleNamespace, as_: Any) -> None:
    response = as_("technician").post(sheet_url(w), {"sign": "1", **posted(w)}, follow=True)

    assert "Received as entry" in text(response)
    sheet = Sheet.objects.get(day__date=w.at.date())
    assert (sheet.section, sheet.verdict) == ("landing", "ok")
    page = as_("auditor").get(url(w, "signed", sheet.pk)).content.decode()
    assert "Tarik Oben" in page


def test_a_sheet_sent_twice_is_signed_once(w: SimpleNamespace, as_: Any) -> None:
    client, fields = as_("technician"), {"sign": "1", "deed_id": str(uuid4()), **posted(w)}
    client.post(sheet_url(w), fields)
    again = client.post(sheet_url(w), fields, follow=True)

    assert "This was received already" in text(again)
    assert Sheet.objects.filter(day__date=w.at.date()).count() == 1


def test_an_incomplete_sheet_is_kept_and_says_what_is_missing(w: SimpleNamespace, as_: Any) -> None:
    fields = posted(w)
    del fields[f"mark-{LOOK}"]

    response = as_("technician").post(sheet_url(w), {"sign": "1", **fields})

    assert response.status_code == 200
    page = text(response)
    assert "Not signed yet. Nothing is lost." in page
    assert f'href="#item-{LOOK}"' in page
    assert Draft.objects.get().content[SPRING]["text"] == fields[f"text-{SPRING}"]


BAD = {
    "": "Not answered yet.",
    "-599": None,
    "about 600": None,
    "1,234": None,  # thousand, or one and a bit?
    "5990": "?",  # tenfold
    "59.9": "?",
    "23.6": "?",  # inches in a field of millimetres
    "560": "out of service at once",
    "600 kg": None,
    "9" * 70: None,
    "<script>alert(1)</script>": None,
}


@pytest.mark.parametrize("typed", BAD)
def test_a_bad_figure_is_not_signed_and_stands_there_again(w: SimpleNamespace, as_: Any, typed: str) -> None:
    client = as_("technician")
    fields = posted(w, **{f"text-{SPRING}": typed})

    response = client.post(sheet_url(w), {"sign": "1", **fields})

    page = text(response)
    assert response.status_code == 200
    assert "Not signed yet." in page
    assert not Sheet.objects.exists()
    assert not Finding.objects.exists()
    assert "<script>alert(1)" not in page
    if BAD[typed] not in {None, "?"}:
        assert BAD[typed] in page
    if typed and len(typed) < 20 and "<" not in typed:
        assert f'value="{typed}"' in page


@pytest.mark.parametrize("typed", ["599", "599.4", "599,4", "599mm", "599.4 mm", "59.9 cm", "0.599 m", " 599 "])
def test_a_figure_may_be_typed_as_people_type(w: SimpleNamespace, as_: Any, typed: str) -> None:
    as_("technician").post(sheet_url(w), {"sign": "1", **posted(w, **{f"text-{SPRING}": typed})})

    reading = Reading.objects.get(key=SPRING, day__date=w.at.date())
    assert reading.text == typed.strip()  # as typed, beside what was understood
    assert reading.value in {"599", "599.4"}


def test_a_fraction_of_an_inch_is_understood(w: SimpleNamespace, as_: Any) -> None:
    # 23 5/8 in = 600.075 mm: an inch is 25.4 mm exactly, from memory.
    as_("technician").post(sheet_url(w), {"sign": "1", **posted(w, **{f"text-{SPRING}": "23 5/8 in"})})

    assert Reading.objects.get(key=SPRING, day__date=w.at.date()).value == "600.075"


# --- kept as one goes


def autosave(client: Client, w: SimpleNamespace, **fields: str) -> Any:
    return client.post(sheet_url(w), fields, headers={"accept": "application/json"})


def test_an_answer_is_kept_and_judged_at_once(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    answer = autosave(client, w, item=SPRING, **{f"text-{SPRING}": "599"})

    assert answer.status_code == 200
    said = answer.json()
    assert said["item"][SPRING]["verdict"] == "ok"
    assert said["progress"]["done"] == 1
    assert said["saved"] == "07:30"  # the course's clock, not the server's
    assert Draft.objects.get().content[SPRING]["text"] == "599"


def test_a_slip_is_asked_back_and_counts_once_it_is_kept(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    said = autosave(client, w, item=SPRING, **{f"text-{SPRING}": "560"}).json()["item"][SPRING]
    assert said["verdict"] == "unknown"
    assert said["ask"]["keep"] == SPRING
    assert not Finding.objects.exists()

    said = autosave(client, w, item=SPRING, keep=SPRING, **{f"text-{SPRING}": "560"}).json()["item"][SPRING]
    assert (said["verdict"], said["ask"]) == ("withdraw", None)
    # Out of service when it is entered, not when the sheet is signed.
    [finding] = Finding.objects.all()
    assert (finding.key, finding.out_of_service) == (SPRING, True)
    assert "Critical finding open" in text(as_("guide").get(url(w, "board")))

    autosave(client, w, item=SPRING, keep=SPRING, **{f"text-{SPRING}": "560"})
    client.post(sheet_url(w), {"sign": "1", **posted(w, **{f"text-{SPRING}": "560", f"note-{SPRING}": "Twice."})})
    assert Finding.objects.count() == 1


def test_the_last_figure_is_told_only_after_one_stands_there(w: SimpleNamespace, as_: Any) -> None:
    make.sign(w, w.line, "landing", at=w.t(0), answers={SPRING: {"text": "598.7"}})
    client = as_("mate")
    assert "598.7" not in text(client.get(sheet_url(w)))

    said = autosave(client, w, item=SPRING, **{f"text-{SPRING}": "598.2"}).json()["item"][SPRING]
    assert "598.7" in said["last"]
    assert said["difference"] == "-0.5"


def test_an_item_that_is_gone_is_said_so(w: SimpleNamespace, as_: Any) -> None:
    answer = autosave(as_("technician"), w, item="NO-1@cable", **{"text-NO-1@cable": "1"})

    assert answer.status_code == 422
    assert answer.json()["gone"]


def test_who_is_logged_out_gets_the_typed_sheet_back_after_the_log_in(w: SimpleNamespace) -> None:
    client = Client()
    client.force_login(w.technician)
    page = client.get(sheet_url(w)).content.decode()
    hidden = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', page))
    client.logout()

    gone = client.post(sheet_url(w), {**hidden, "save": "1", f"text-{SPRING}": "598.3", f"note-{SPRING}": "Cold."})
    assert gone.status_code == 302
    assert not Draft.objects.exists()
    client.post("/account/login/", {"login": w.technician.email, "password": make.WORD})
    back = text(client.get(sheet_url(w)))

    assert 'value="598.3"' in back
    assert "Cold." in back


def test_a_retired_line_says_so(w: SimpleNamespace, as_: Any) -> None:
    for placement in Placement.objects.filter(place=w.line, until__isnull=True):
        setup.take_off(placement.component, deed=make.deed(w.manager, at=w.t(0)))
    setup.retire_place(w.line, why="Taken down.", deed=make.deed(w.manager, at=w.t(0)))

    response = as_("technician").post(sheet_url(w), {"sign": "1", f"text-{SPRING}": "599"})

    assert response.status_code in {200, 404}
    assert not Sheet.objects.exists()
    assert response.status_code == 404 or "retired" in text(response)


def test_who_is_not_authorised_is_told_before_the_first_field(w: SimpleNamespace) -> None:
    client = Client()
    client.force_login(make.person(w.operator, "technician", name="Nils Neu"))

    page = text(client.get(sheet_url(w)))

    assert "You are not authorised today" in page
    assert "text-" not in page


def test_a_correction_starts_from_what_was_signed(w: SimpleNamespace, as_: Any) -> None:
    make.sign(w, w.line, "landing", at=w.t(0), answers={SPRING: {"text": "598.7"}})
    sheet = Sheet.objects.get(section="landing", day__date=w.at.date())
    client = as_("technician")

    page = client.post(url(w, "correct", sheet.pk), follow=True)
    assert 'value="598.7"' in text(page)
    draft = Draft.objects.get()
    refused = client.post(url(w, "draft", draft.pk), {"sign": "1", f"text-{SPRING}": "598.1"})
    assert "Say why" in text(refused)
    client.post(url(w, "draft", draft.pk), {"sign": "1", f"text-{SPRING}": "598.1", "reason": "Misread."})

    assert list(
        Reading.objects.filter(key=SPRING, day__date=w.at.date()).order_by("seq").values_list("text", flat=True)
    ) == [
        "598.7",
        "598.1",
    ]
    shown = text(client.get(url(w, "signed", sheet.pk)))
    assert "598.7" in shown
    assert "598.1" in shown
    assert as_("mate").get(url(w, "draft", draft.pk)).status_code == 404


# --- racks and rides


def rack_url(w: SimpleNamespace) -> str:
    return url(w, "rack", w.store.pk, "B")


def test_a_rack_is_counted_and_signed(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    assert "HA-01" in text(client.get(rack_url(w)))
    wrong = client.post(rack_url(w), {"count": "3"})
    assert "Count again" in text(wrong)
    both = client.post(rack_url(w), {"count": "1", "defect": ["HA-01"], "missing": ["HA-01"], "note": "x"})
    assert "cannot be defect and not found" in text(both)
    silent = client.post(rack_url(w), {"count": "2", "defect": ["HA-01"]})
    assert "Say what is wrong" in text(silent)
    assert not Sheet.objects.exists()

    client.post(rack_url(w), {"count": "1", "defect": ["HA-01"], "missing": ["HA-02"], "note": "Stitching open."})

    verdicts = dict(Reading.objects.filter(sheet__section="rack:B").values_list("key", "verdict"))
    assert verdicts == {"gear@HA-01": "withdraw", "gear@HA-02": "unknown"}
    [finding] = Finding.objects.all()
    assert finding.component.tag == "HA-01"


def ride_fields(w: SimpleNamespace, **more: str) -> dict[str, str]:
    fields = make.ride_raw()
    for item in ride_items(make.picture(w, w.t(0)), w.line):
        value = make.RIDE_FIGURES.get(item["measures"], "0.1")
        name, said = ("mark", "sound") if item["kind"] in {"look", "function", "choice"} else ("text", value)
        fields[f"{name}-{item['key']}"] = said
    return {**fields, **more}


def test_a_ride_is_entered_once(w: SimpleNamespace, as_: Any) -> None:
    client, fields = as_("technician"), ride_fields(w, deed_id=str(uuid4()))
    before = Ride.objects.count()
    assert client.get(url(w, "ride", w.line.pk)).status_code == 200
    client.post(url(w, "ride", w.line.pk), fields)
    client.post(url(w, "ride", w.line.pk), fields)

    assert Ride.objects.count() == before + 1
    assert Ride.objects.latest("seq").verdict == "ok"


@pytest.mark.parametrize(
    "changed", [{"mass": "heavy"}, {"mass": ""}, {"landing_clear": ""}, {"wind": "-3"}, {"state": "x"}]
)
def test_a_ride_that_is_not_complete_comes_back_filled(w: SimpleNamespace, as_: Any, changed: dict[str, str]) -> None:
    before = Ride.objects.count()
    response = as_("technician").post(url(w, "ride", w.line.pk), ride_fields(w, **changed))

    assert response.status_code == 200
    assert Ride.objects.count() == before
    assert 'value="2.40"' in text(response)


# --- photos on pages


def test_a_photo_is_kept_with_its_item_and_shown_to_the_course_alone(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    file = SimpleUploadedFile("spring.jpg", jpeg(), content_type="image/jpeg")
    client.post(sheet_url(w), {"save": "1", f"text-{SPRING}": "599", f"photo-{SPRING}": file})
    [sha256] = Draft.objects.get().content[SPRING]["photos"]

    shown = client.get(url(w, "photo", sha256))
    assert (shown.status_code, shown["Content-Type"]) == (200, "image/jpeg")
    assert client.get(url(w, "photo", "0" * 64)).status_code == 404
    stranger = Client()
    stranger.force_login(make.person(make.operator("Far Away"), "manager", name="Sten Fern"))
    assert stranger.get(url(w, "photo", sha256)).status_code == 404


def test_a_file_that_is_no_photo_is_refused_and_the_figure_kept(w: SimpleNamespace, as_: Any) -> None:
    file = SimpleUploadedFile("spring.jpg", b"%PDF-1.7", content_type="image/jpeg")

    response = as_("technician").post(sheet_url(w), {"sign": "1", **posted(w), f"photo-{SPRING}": file})

    assert "This is not a photo." in text(response)
    assert not Sheet.objects.exists()
    assert Draft.objects.get().content[SPRING]["text"]


# --- findings and holds


def test_out_of_service_from_the_page_leads_to_the_finding_and_back_to_released(w: SimpleNamespace, as_: Any) -> None:
    component = make.Component.objects.get(placements__place=w.platforms[0], placements__slot="platform")
    spot = f"{w.platforms[0].pk}|platform|{component.pk}"
    page = as_("technician").post(url(w, "withdraw"), {"spot": spot, "title": "Anchor bent"}, follow=True)
    [finding] = Finding.objects.all()
    assert "Anchor bent" in text(page)

    def do(role: str, deed: str, **fields: str) -> Any:
        return as_(role).post(url(w, f"finding_{deed}", finding.pk), fields, follow=True)

    assert "Still owed" in text(as_("manager").get(url(w, "finding", finding.pk)))
    do("technician", "add", text="Seen.", tag_number="0417")
    as_("technician").post(
        url(w, "finding_add", finding.pk), {"photo": SimpleUploadedFile("a.jpg", jpeg(), content_type="image/jpeg")}
    )
    do("technician", "work", what="repair", text="New anchor.")
    assert "Somebody else" in text(do("technician", "again", mark="sound"))
    do("mate", "again", mark="sound")
    ticks = dict.fromkeys(("area", "intact", "clear", "told"), "on")
    wrong = do("manager", "release", tag_removed_by="applier", password="wrong", **ticks)
    assert "This is not your password." in text(wrong)
    do("manager", "release", tag_removed_by="applier", password=make.WORD, **ticks)

    finding.refresh_from_db()
    assert finding.state == "released"
    page = text(as_("technician").get(url(w, "findings") + "?show=released"))
    assert "Anchor bent" in page


def test_a_hold_is_called_told_and_lifted(w: SimpleNamespace, as_: Any, clock: Any) -> None:
    as_("guide").post(url(w, "hold"), {"cause": "thunder", "line": "", "text": "West"})
    [hold] = Hold.objects.all()
    as_("technician").post(url(w, "tell", hold.pk), {"where": "launch", "text": "Gesa"})
    early = as_("technician").post(url(w, "lift", hold.pk), {"looked": "on"})
    assert "Thirty minutes after the last thunder" in text(early)

    clock.move_to(w.t(30))
    as_("technician").post(url(w, "lift", hold.pk), {"looked": "on"})
    hold.refresh_from_db()
    assert hold.lifted_at is not None


def test_the_day_is_closed_with_its_riders(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    bad = client.post(url(w, "close"), {f"riders-{w.line.pk}": "-1"})
    assert bad.status_code == 200
    absurd = client.post(url(w, "close"), {f"riders-{w.line.pk}": "50000"})
    assert "cannot be" in text(absurd)

    assert client.post(url(w, "close"), {f"riders-{w.line.pk}": "41"}).status_code == 302


# --- how often the database is asked


def queries(client: Client, path: str) -> int:
    client.get(path)  # what is kept from the first request on
    with CaptureQueriesContext(connection) as found:
        assert client.get(path).status_code == 200
    return len(found)


def test_pages_ask_a_fixed_number_of_times_whatever_the_course_and_the_day(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")

    def count() -> dict[str, int]:
        return {
            "board": queries(client, url(w, "board")),
            "walk": queries(client, url(w, "walk")),
            "sheet": queries(client, sheet_url(w)),
            "line": queries(client, url(w, "line", w.line.pk)),
        }

    first = count()
    make.inspect(w, at=w.t(0))
    make.open_lines(w, at=w.t(0))
    for number in range(6):
        actions.open_finding(
            make.picture(w, w.t(0)), w.line, title=f"Scratch {number}", severity="minor",
            deed=make.deed(w.technician, at=w.t(0)),
        )  # fmt: skip
    later = count()

    assert max(later.values()) <= MOST_QUERIES, later
    assert all(later[name] <= first[name] + 4 for name in first), (first, later)


def test_a_course_with_more_lines_is_not_asked_about_more_often(w: SimpleNamespace, as_: Any) -> None:
    big = make.ready(lines=4, on=w.at, name="Rook Vale")
    client = Client()
    client.force_login(big.technician)
    small = as_("technician")

    for name in ("board", "walk"):
        assert queries(client, url(big, name)) == queries(small, url(w, name)) <= MOST_QUERIES
