"""A sheet as a browser sends it: typed badly and well, kept as one goes, lost log-ins, corrections, photos.

What is typed badly is common practice of the trade (comma, unit typed along, inches, a digit too many); no source.
"""

import re
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from courses import actions as setup
from courses.models import Placement
from inspections.models import Draft, Finding, Reading, Sheet
from tests import make
from tests.inspections.pages import posted, seen, sheet_url, text, url
from tests.inspections.test_photos import jpeg

SPRING = "BS-1@primary-1"
LOOK = "TA-06@end-landing"

pytestmark = pytest.mark.usefixtures("clock")


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
    assert "598.7" not in seen(client.get(sheet_url(w)))

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


def test_a_figure_that_is_not_kept_yet_does_not_read_as_kept_on_signing(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    past = posted(w, **{f"text-{SPRING}": "59.9"})  # past its limit, and a tenth of the last figure
    page = seen(client.post(sheet_url(w), {"sign": "1", **past}))

    assert "at least five times more or less than" in page
    assert "If you keep it, it is out of service at once." in page
    assert "say in the note what is wrong" not in page


def test_an_unclear_figure_brings_a_button_for_each_meaning(w: SimpleNamespace, as_: Any) -> None:
    sent = {**posted(w, **{f"text-{SPRING}": "0,334"}), "item": SPRING}
    answer = as_("technician").post(sheet_url(w), sent, headers={"accept": "application/json"}).json()["item"][SPRING]

    assert answer["choices"] == ["0.334", "334"]


def test_can_not_check_says_at_once_that_it_holds_a_line(w: SimpleNamespace, as_: Any) -> None:
    sent = {**posted(w, **{f"mark-{LOOK}": "cannot_check"}), "item": LOOK}
    answer = as_("technician").post(sheet_url(w), sent, headers={"accept": "application/json"}).json()["item"][LOOK]

    assert answer["sentence"] == "No line that needs it opens until somebody has checked it."
