"""The pages of the set-up, as an engineer and a manager use them."""

from hashlib import sha256
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from courses import actions
from courses.models import Course, Place, StoredFile, Version
from courses.queries import setup_at
from ledger.models import Entry
from tests import make
from tests.courses import build
from tests.courses.pages import PDF, As, filled, look, path, text

# --- proposing


def test_a_change_is_looked_at_before_it_is_proposed(course: Course, complete: Place, as_: As) -> None:
    client, address = as_("engineer"), path("place_edit", course, complete)
    before = Entry.objects.count()

    response, again = look(client, address, mass_max_kg="125", source="Letter, page 2")

    page = text(response)
    assert "Heaviest rider" in page
    assert "120 kg" in page
    assert "125 kg" in page
    assert "Confirmed today, it counts from Tuesday 16 June; until then nothing changes." in page
    assert Entry.objects.count() == before

    sent = client.post(address, again)

    assert sent.status_code == 302
    version = Version.objects.get(subject=f"line:{complete.pk}", number=2)
    assert (version.content, version.source) == (build.LINE | {"mass_max_kg": "125"}, "Letter, page 2")
    assert version.confirmed_at is None


def test_what_was_changed_after_the_look_is_looked_at_again(course: Course, complete: Place, as_: As) -> None:
    client, address = as_("engineer"), path("place_edit", course, complete)
    _response, again = look(client, address, mass_max_kg="125", source="Letter, page 2")

    response = client.post(address, again | {"mass_max_kg": "130"})

    assert "130 kg" in text(response)
    assert Version.objects.filter(subject=f"line:{complete.pk}").count() == 1


def test_a_tightening_says_so_and_is_in_force_at_once(course: Course, complete: Place, as_: As, morning: Any) -> None:
    client, address = as_("engineer"), path("place_edit", course, complete)

    response, again = look(client, address, mass_max_kg="110", source="Wear of the brake")
    assert "This only makes things stricter: it counts as soon as you send it." in text(response)
    client.post(address, again)

    assert setup_at(course, morning).document(complete)["mass_max_kg"] == "110"


def test_the_page_says_before_anything_is_typed_from_when_a_change_counts(
    course: Course, complete: Place, as_: As
) -> None:
    page = text(as_("engineer").get(path("place_edit", course, complete)))

    assert "A change that only makes things stricter counts at once." in page
    assert "confirmed today, it counts from Tuesday 16 June." in page


def test_nothing_typed_is_lost_when_something_is_wrong(course: Course, complete: Place, as_: As) -> None:
    client, address = as_("engineer"), path("place_edit", course, complete)

    response = client.post(address, filled(client, address, length_m="1,234", designer="Ing. Bea Muster", source="x"))

    page = text(response)
    assert "Does “1,234” mean a decimal or thousands? Type 1.234 or 1234." in page
    assert 'value="1,234"' in page
    assert 'value="Ing. Bea Muster"' in page


def test_what_the_document_refuses_is_said_in_the_form(course: Course, complete: Place, as_: As) -> None:
    client, address = as_("engineer"), path("place_edit", course, complete)

    response = client.post(address, filled(client, address, mass_min_kg="120", source="Letter"))

    assert "The lightest rider must weigh less than the heaviest one." in text(response)


def test_a_proposal_without_source_is_asked_for_it(course: Course, complete: Place, as_: As) -> None:
    client, address = as_("engineer"), path("place_edit", course, complete)

    response = client.post(address, filled(client, address, mass_max_kg="110"))

    assert list(response.context["form"].errors) == ["source"]


def test_a_proposal_that_changes_nothing_is_refused(course: Course, complete: Place, as_: As) -> None:
    client, address = as_("engineer"), path("place_edit", course, complete)

    response = client.post(address, filled(client, address, source="Letter"))

    assert "Nothing would change: this is what is in force." in text(response)


def test_the_form_gives_back_exactly_the_document_it_was_filled_with(course: Course, complete: Place, as_: As) -> None:
    full = build.LINE | {
        "engineered_landing": "yes",
        "speed_instrument": "radar gun R-1",
        "cable": build.LINE["cable"] | {"grade": "1960", "wires_total": "216"},
        "brakes": [
            {"slot": "primary-2", "role": "primary", "kind": "spring"},
            {"slot": "primary-1", "role": "primary", "kind": "hand"},
            {"slot": "emergency-1", "role": "emergency", "kind": "cord", "shares": ["anchor"]},
        ],
    }
    engineer = make.deed(make.founder_of(course.operator))
    actions.propose(course, "line", full, source="Folder", place=complete, deed=engineer)
    client, address = as_("engineer"), path("place_edit", course, complete)

    _response, again = look(client, address, source="Folder once more")
    client.post(address, again)

    assert Version.objects.filter(subject=f"line:{complete.pk}").latest("number").content == full


def test_a_brake_keeps_its_place_when_another_is_taken_away(course: Course, complete: Place, as_: As) -> None:
    client, address = as_("engineer"), path("place_edit", course, complete)
    changes = {
        "brakes__1__role": "emergency", "brakes__1__kind": "cord",
        "brakes__3__role": "primary", "brakes__3__kind": "magnetic", "source": "Letter",
    }  # fmt: skip

    _response, again = look(client, address, **changes)
    client.post(address, again)

    brakes = Version.objects.filter(subject=f"line:{complete.pk}").latest("number").content["brakes"]
    assert brakes == [
        {"slot": "emergency-2", "role": "emergency", "kind": "cord"},
        {"slot": "emergency-1", "role": "emergency", "kind": "cord"},
        {"slot": "primary-1", "role": "primary", "kind": "magnetic"},
    ]


def test_a_us_course_types_feet_pounds_and_miles_an_hour(operator: Any, staff: Any, as_: As) -> None:
    course = make.course(operator, "Ridge", units="us")
    line = make.line(course)
    client, address = as_("engineer"), path("place_edit", course, line)

    _response, again = look(client, address, length_m="450", mass_max_kg="250", arrival_speed_mps="20", source="Folder")
    client.post(address, again)

    # 450 ft x 0.3048, 250 lb x 0.45359237, 20 mph x 0.44704: exact
    assert Version.objects.get(subject=f"line:{line.pk}").content == {
        "length_m": "137.16", "length_m_typed": "450 ft", "mass_max_kg": "113.3980925", "mass_max_kg_typed": "250 lb",
        "arrival_speed_mps": "8.9408", "arrival_speed_mps_typed": "20 mph",
    }  # fmt: skip
    assert filled(client, address)["length_m"] == "450 ft"


def test_a_line_begins_with_the_data_of_another_one(course: Course, complete: Place, as_: As) -> None:
    other = make.line(course, 2, "Kestrel")
    client = as_("engineer")

    choice = text(client.get(path("line_copy", course, other)))
    address = f"{path('place_edit', course, other)}?from={complete.pk}"

    assert f"{path('place_edit', course, other)}?from={complete.pk}" in choice
    assert filled(client, address)["designer"] == "Ing. Ada Muster"
    assert "Begun with the data of Line 1 Heron. Check every figure." in text(client.get(address))


def test_a_form_says_when_it_begins_with_a_proposal_and_offers_what_is_in_force(
    course: Course, complete: Place, as_: As, staff: Any, morning: Any
) -> None:
    wider = build.LINE | {"arrival_speed_mps": "7.9", "mass_max_kg": "125"}
    actions.propose(course, "line", wider, source="Letter", place=complete, deed=make.deed(staff["manager"]))
    client, address = as_("engineer"), path("place_edit", course, complete)

    page = text(client.get(address))
    assert "Version 2 waits to be confirmed; this form begins with it." in page
    assert filled(client, address)["arrival_speed_mps"] == "7.9"

    in_force = f"{address}?from=in-force"
    assert "waits to be confirmed" not in text(client.get(in_force))
    _response, again = look(client, in_force, mass_max_kg="110", source="Wear of the brake")
    client.post(in_force, again)

    assert setup_at(course, morning).document(complete) == build.LINE | {"mass_max_kg": "110"}


# --- the attached source


def test_an_attached_source_survives_the_look_and_is_given_out_as_a_download(
    course: Course, complete: Place, as_: As
) -> None:
    client, address = as_("engineer"), path("place_edit", course, complete)
    drawing = SimpleUploadedFile("drawing.html", PDF, content_type="text/html")

    _response, again = look(client, address, mass_max_kg="125", source="Drawing 4", source_file=drawing)
    client.post(address, again)

    version = Version.objects.filter(subject=f"line:{complete.pk}").latest("number")
    assert version.source_file == sha256(PDF).hexdigest()
    answer = as_("auditor").get(path("source_file", course, version.source_file))
    assert answer.content == PDF
    assert answer["Content-Type"] == "application/pdf"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Disposition"].startswith("attachment;")


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"<script>alert(1)</script>", "Only PDF, JPEG and PNG files are taken."),
        (b"GIF89a", "Only PDF, JPEG and PNG files are taken."),
        (b"%PDF-" + b"0" * (10 * 2**20), "The file is larger than 10 MB."),
    ],
    ids=["script", "gif", "large"],
)
def test_other_files_are_refused_by_what_they_are(
    course: Course, complete: Place, as_: As, data: bytes, sentence: str
) -> None:
    client, address = as_("engineer"), path("place_edit", course, complete)
    given = SimpleUploadedFile("drawing.pdf", data, content_type="application/pdf")

    response = client.post(address, filled(client, address, mass_max_kg="125", source="x", source_file=given))

    assert sentence in text(response)
    assert not StoredFile.objects.exists()


def test_a_made_up_hash_attaches_nothing_and_photos_are_no_sources(
    course: Course, complete: Place, as_: As, staff: Any
) -> None:
    photo = actions.store_bytes(
        course.operator, b"\xff\xd8\xff photo", kind="photo", media_type="image/jpeg", deed=make.deed(staff["manager"])
    )
    client, address = as_("engineer"), path("place_edit", course, complete)

    _response, again = look(client, address, mass_max_kg="125", source="Letter")
    client.post(address, again | {"stored": photo.sha256})

    assert Version.objects.filter(subject=f"line:{complete.pk}").latest("number").source_file == ""
    assert client.get(path("source_file", course, photo.sha256)).status_code == 404


# --- the second person


def test_a_second_person_sees_the_difference_and_confirms_with_the_password(
    course: Course, complete: Place, as_: As, staff: Any
) -> None:
    proposer = make.deed(staff["engineer"])
    version = actions.propose(
        course, "line", build.LINE | {"mass_max_kg": "125"}, source="Letter", place=complete, deed=proposer
    )
    address = path("proposal", course, version)
    manager = as_("manager")

    listed = text(manager.get(path("proposals", course)))
    page = text(manager.get(address))
    wrong = manager.post(address, {"password": "not this one"})
    assert "This is not your password." in text(wrong)
    version.refresh_from_db()
    assert version.confirmed_at is None
    manager.post(address, {"password": make.WORD})

    assert "Data of Line 1 Heron" in listed
    assert "120 kg" in page
    assert "125 kg" in page
    version.refresh_from_db()
    assert version.confirmed_by == staff["manager"]
    confirmed = Entry.objects.filter(log=course.operator.log, kind="version-confirmed").latest("seq")
    assert confirmed.record["auth"]["how"] == "password"


def test_the_proposer_is_not_offered_to_confirm_and_may_take_it_back(
    course: Course, complete: Place, as_: As, staff: Any
) -> None:
    version = actions.propose(
        course, "line", build.LINE | {"mass_max_kg": "125"}, source="Letter", place=complete,
        deed=make.deed(staff["engineer"]),
    )  # fmt: skip
    engineer = as_("engineer")

    page = text(engineer.get(path("proposal", course, version)))
    refused = engineer.post(path("proposal", course, version), {"password": make.WORD})
    engineer.post(path("proposal_refuse", course, version), {"why": "Wrong letter."})

    assert "You proposed this. Somebody else must confirm it." in page
    assert 'name="password"' not in page
    assert refused.status_code == 200
    version.refresh_from_db()
    assert (version.confirmed_at, version.refused_at is None) == (None, False)
