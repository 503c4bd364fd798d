"""Opening on paper: two signatures, typed in later with a photo, judged as of the time on the paper.

No source outside the project: that it exists, with which conditions, is what the operators of the service decided.
"""

from __future__ import annotations

import uuid
from datetime import timedelta
from io import BytesIO
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from inspections import actions
from inspections.actions.signing import NotReady
from inspections.errors import Refused
from inspections.facts import line_statuses
from inspections.models import Finding, Hold, Paper, SignOff
from inspections.rebuild import projection_faults
from ledger.models import Entry
from reports.actions import issue_day_sheet
from reports.forms import field_name
from reports.past_day import past_day
from reports.resolve import day_sheet_data
from reports.season import state_of
from tests import make
from tests.inspections import steps

PHOTO = "cd" * 32


def on_paper(w: SimpleNamespace, at: float = 12, **more: Any) -> actions.OnPaper:
    return actions.OnPaper(
        **{"opened_by": w.manager, "beside": w.technician, "at": w.t(at), "photo": PHOTO, **more}
    )  # fmt: skip


def type_in(w: SimpleNamespace, *, now: float = 60, by: Any = None, paper: Any = None, **decided: str) -> Entry:
    newest = SignOff.objects.filter(day__course=w.course, day__date=w.on).order_by("-revision").first()
    return actions.sign_off(
        w.course,
        decisions={str(one.pk): decided.get(f"line{one.number}", "open") for one in w.lines},
        meaning="Typed in.",
        seen_revision=newest.revision if newest else 0,
        on_paper=paper or on_paper(w),
        deed=make.deed(by or w.deputy, at=w.t(now)),
    )


def words(w: SimpleNamespace, at: float) -> list[str]:
    return [one.word for one in line_statuses(make.picture(w, w.t(at)))]


def test_a_paper_opens_the_lines_with_its_own_time_and_both_names(w: SimpleNamespace) -> None:
    entry = type_in(w)

    signed = SignOff.objects.get(seq=entry.seq)
    assert (signed.from_paper, signed.signed_at, signed.signer_ref) == (True, w.t(12), w.deputy.ref)
    assert "Valk" not in str(entry.record)  # names stand in the history as commitments only
    assert words(w, 61) == ["open", "open"]
    told = past_day(w.course, w.on, at=w.t(61)).sign_offs[0]
    assert told["paper_signers"] == ["Mirte Valk", "Tarik Oben"]
    assert told["typed_at"] == w.t(60)
    assert list(projection_faults(w.operator)) == []


def test_the_calendar_and_the_day_sheet_say_from_paper(w: SimpleNamespace) -> None:
    signed = SignOff.objects.get(seq=type_in(w).seq)
    opens = signed.day.opens_at

    assert state_of(w.on, opens, [signed], today=w.on, at=w.t(200)) == (
        "day_signed",
        "signed on paper before opening, typed in later",
    )
    data = day_sheet_data(signed)["sign_off"]
    assert data["name"] == "Mirte Valk"
    signatures = [(one["name"], one["meaning"]) for one in day_sheet_data(signed)["signatures"][-3:]]
    assert signatures == [
        ("Mirte Valk", "Opened and closed the lines by signature on paper, as on the photo."),
        ("Tarik Oben", "Signed beside on the same paper."),
        ("Dorte Hase", "Typed in."),
    ]
    assert data["how"].startswith("FROM PAPER: signed beside by Tarik Oben; typed in by Dorte Hase")
    assert issue_day_sheet(signed, deed=make.deed(w.deputy, at=w.t(61))).kind == Paper.Kind.DAY_SHEET


@pytest.mark.parametrize(
    ("code", "changed"),
    [
        ("paper-photo", {"photo": ""}),
        ("paper-later", {"at": 61}),
        ("paper-old", {"at": -8 * 24 * 60}),
        ("paper-second", {"beside": "manager"}),
        ("paper-right", {"opened_by": "mate"}),
        ("paper-beside", {"beside": "guide"}),
    ],
)
def test_a_paper_that_could_not_open_anything_is_refused(
    w: SimpleNamespace, code: str, changed: dict[str, Any]
) -> None:
    at = changed.pop("at", 12)
    given = {name: getattr(w, value) if name != "photo" else value for name, value in changed.items()}

    with pytest.raises(Refused) as caught:
        type_in(w, paper=on_paper(w, at, **given))

    assert caught.value.code == code
    assert not SignOff.objects.exists()


def test_nobody_signs_both_the_sheet_and_the_opening(w: SimpleNamespace) -> None:
    make.people_actions.give_role(
        w.operator, w.technician, "manager", deed=make.deed(make.founder_of(w.operator), at=w.t(1))
    )

    for opener, typist in ((w.technician, w.deputy), (w.manager, w.technician)):
        with pytest.raises(Refused) as caught:
            type_in(w, by=typist, paper=on_paper(w, opened_by=opener, beside=w.mate))
        assert caught.value.code == "own-inspection"
    type_in(w, by=w.technician, paper=on_paper(w, beside=w.mate), line1="closed", line2="closed")


def test_what_was_held_then_and_lifted_since_refuses_the_paper(w: SimpleNamespace) -> None:
    actions.call_hold(make.picture(w, w.t(10)), w.line, cause="object", deed=make.deed(w.guide, at=w.t(10)))
    hold = Hold.objects.get()
    actions.lift_hold(make.picture(w, w.t(20)), hold, given={"looked": "yes"}, deed=make.deed(w.technician, at=w.t(20)))

    with pytest.raises(NotReady) as caught:
        type_in(w)
    assert set(caught.value.lines) == {str(w.line.pk)}
    type_in(w, paper=on_paper(w, 25))


def test_what_was_signed_after_the_time_on_the_paper_does_not_count_for_it(w: SimpleNamespace) -> None:
    with pytest.raises(NotReady) as caught:
        type_in(w, paper=on_paper(w, 3))  # the sheets were signed at minute 5

    assert set(caught.value.lines) == {str(one.pk) for one in w.lines}


def test_a_hold_called_since_does_not_stand_against_the_paper_but_holds_now(w: SimpleNamespace) -> None:
    actions.call_hold(make.picture(w, w.t(30)), w.line, cause="object", deed=make.deed(w.guide, at=w.t(30)))

    type_in(w)

    assert words(w, 61) == ["held", "open"]


def test_what_was_found_since_takes_the_opening_back(w: SimpleNamespace) -> None:
    steps.take_out(w, at=30)

    type_in(w)

    assert words(w, 61) == ["held", "open"]
    # Repaired and released, it takes a new signature to open again: the paper knew nothing of it.
    Finding.objects.update(state="released")
    assert "open" not in words(w, 61)[:1]


def test_a_paper_older_than_what_is_signed_is_refused(w: SimpleNamespace) -> None:
    make.open_lines(w, at=w.t(15))

    with pytest.raises(Refused) as caught:
        type_in(w)

    assert caught.value.code == "signed-later"


def test_the_page_takes_the_paper_with_its_photo(w: SimpleNamespace, as_one: Any) -> None:
    w.clock.move_to(w.t(60))
    client: Client = Client()
    client.force_login(w.deputy)
    page = reverse("reports:sign_paper", args=[w.course.pk])
    picture = BytesIO()
    Image.new("RGB", (60, 40), "white").save(picture, "JPEG")
    local = w.t(12).astimezone(w.course.zone)
    sent = {
        "password": make.WORD, "deed_id": str(uuid.uuid4()), "seen_revision": "0", "signed_on": f"{w.on:%Y-%m-%d}",
        "signed_at": f"{local:%H:%M}", "opened_by": str(w.manager.pk), "beside": str(w.technician.pk),
        **{field_name(one): "open" for one in w.lines},
    }  # fmt: skip

    assert client.get(page).status_code == 200
    without = client.post(page, sent).content.decode()
    photo = SimpleUploadedFile("paper.jpg", picture.getvalue(), content_type="image/jpeg")
    done = client.post(page, {**sent, "paper_photo": photo}, follow=True).content.decode()

    assert "Add the photo of the sheet of paper." in without
    assert "From paper." in done
    assert "Mirte Valk" in done
    assert SignOff.objects.get().signed_at == w.t(12) - timedelta(seconds=w.t(12).second)
    # Once the day is signed, a paper from before that signature could only be refused.
    assert (
        reverse("reports:sign_paper", args=[w.course.pk])
        not in client.get(reverse("reports:sign", args=[w.course.pk])).content.decode()
    )
