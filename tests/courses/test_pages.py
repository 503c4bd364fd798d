"""The pages of the set-up, as an engineer and a manager use them."""

import re
from collections.abc import Callable
from hashlib import sha256
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from courses import actions, checklists
from courses.models import Component, Course, Place, StoredFile, Version
from courses.queries import setup_at
from engineering import limits
from ledger.models import Entry
from tests import make
from tests.courses import build

As = Callable[[str], Client]
PDF = b"%PDF-1.7 drawing of the designer"


def path(name: str, course: Course, *more: Any) -> str:
    return reverse(f"courses:{name}", args=[course.pk, *(getattr(item, "pk", item) for item in more)])


def text(response: Any) -> str:
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def filled(client: Client, address: str, **changes: Any) -> dict[str, Any]:
    """Return what the form on a page would send, with some fields filled in otherwise."""
    form = client.get(address).context["form"]
    data = {}
    for bound in form:
        value = bound.value()
        if value not in (None, "", [], False):
            data[bound.html_name] = [str(one) for one in value] if isinstance(value, list) else str(value)
    return {**data, **changes}


def look(client: Client, address: str, **changes: Any) -> tuple[Any, dict[str, Any]]:
    """Send a form for a look and return the answer, and what the second sending would be."""
    data = filled(client, address, **changes)
    response = client.post(address, data)
    form = response.context["form"]
    again = {name: value for name, value in data.items() if name != "source_file"}
    return response, again | {"seen": form["seen"].value(), "stored": form["stored"].value()}


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


# --- checklists, limits, criteria, calendar


def test_a_checklist_is_composed_from_the_library_and_adapted(course: Course, line: Place, as_: As, staff: Any) -> None:
    build.settle(course, "line", build.LINE, people=staff, place=line)
    client, address = as_("engineer"), path("checklist_edit", course, line)
    composed = checklists.compose("line", build.LINE)
    first = composed["items"][0]

    _response, again = look(
        client, address, item__0__out="No guide stands there.", item__1__text="Other words?", item__1__every="1",
        source="Course manual, part 2",
    )  # fmt: skip
    client.post(address, again)

    content = Version.objects.get(subject=f"checklist:{line.pk}").content
    assert len(content["items"]) == len(composed["items"]) - 1
    assert content["items"][0]["text"] == "Other words?"
    assert content["left_out"] == [{"code": first["code"], "key": first["key"], "why": "No guide stands there."}]


def test_an_item_of_ones_own_is_added(course: Course, complete: Place, as_: As) -> None:
    client, address = as_("engineer"), path("checklist_add", course, complete)

    _response, again = look(
        client, address, text="How far is the fence from the cable?", look="Measure at the second post.",
        kind="figure", unit="m", slot="cable", sheet="cable", reach="hand", source="Letter of the authority, page 1",
        **{"class": "major", "every": "30"},
    )  # fmt: skip
    client.post(address, again)

    item = Version.objects.filter(subject=f"checklist:{complete.pk}").latest("number").content["items"][-1]
    assert (item["key"], item["measures"], item["unit"]) == ("OWN-1@cable", "own.figure", "m")
    assert item["sources"] == ["Letter of the authority, page 1"]


def test_limits_name_clause_how_it_was_seen_and_what_it_was_written_for(
    course: Course, complete: Place, as_: As
) -> None:
    page = text(as_("technician").get(path("limits", course, complete)))

    # engineering/criteria/osha-1926-1413.toml: R-120, diameter of a 16 mm rope may lose 5 percent, 15.2 mm are left
    assert "At least 15.2 mm" in page
    assert "29 CFR 1926.1413" in page
    assert "For a zip line it is a criterion that the course&#x27;s engineer or manager has adopted" in page
    assert "Add an own limit" not in page


def test_an_own_limit_is_entered_with_its_source(course: Course, complete: Place, as_: As) -> None:
    client, address = as_("engineer"), path("limit_edit", course, complete, "BR-05@ride")

    _response, again = look(client, address, high="7", watch_high="6", source="Maker's manual, page 12")
    client.post(address, again)

    (rule,) = Version.objects.get(subject=f"limits:{complete.pk}").content["items"]["BR-05@ride"]["rules"]
    assert (rule["kind"], rule["params"], rule["compare"], rule["unit"]) == (
        "max",
        {"limit": "7", "watch": "6"},
        ">",
        "m",
    )
    assert (rule["source"], rule["got"]) == ("Maker's manual, page 12", "COURSE")


def test_an_own_limit_may_be_a_share_of_what_the_part_was_when_new(course: Course, complete: Place, as_: As) -> None:
    client, address = as_("engineer"), path("limit_edit", course, complete, "MC-04@cable")

    _response, again = look(
        client, address, basis="loss_new", high="4", itself="on", gauge_u="0.05", source="Manual, p. 3"
    )
    client.post(address, again)

    own = Version.objects.get(subject=f"limits:{complete.pk}").content["items"]["MC-04@cable"]
    assert own["gauge_u"] == "0.05"
    assert own["rules"][0]["params"] == {"limit": "4", "from": "nominal"}
    assert own["rules"][0]["compare"] == ">="
    assert filled(client, address)["basis"] == "loss_new"


def test_a_figure_that_is_no_limit_is_asked_back(course: Course, complete: Place, as_: As) -> None:
    client, address = as_("engineer"), path("limit_edit", course, complete, "MC-04@cable")

    inches = client.post(address, filled(client, address, high="0,591", source="Manual, p. 3"))
    beyond = client.post(address, filled(client, address, high="17", watch_high="18", source="Manual, p. 3"))

    assert "Does “0,591” mean a decimal or thousands?" in text(inches)
    assert "The watch begins before the limit is reached." in text(beyond)


def test_criteria_sets_begin_with_the_defaults_of_the_place(course: Course, as_: As, staff: Any) -> None:
    client, address = as_("engineer"), path("criteria_edit", course)

    before = filled(client, address)
    _response, again = look(client, address, **{"set__zipline-speed-bands": "on"}, source="Decision of the engineer")
    client.post(address, again)

    # engineering.criteria.defaults_for("US-FL"): no set of criteria is law there; one rope set and "found defective"
    assert {name for name in before if name.startswith("set__")} == {"set__found-defective", "set__osha-1926-1413"}
    content = Version.objects.get(subject=f"criteria:{course.pk}").content
    assert content["sets"] == ["found-defective", "osha-1926-1413", "zipline-speed-bands"]


def test_the_law_is_shown_point_by_point_with_what_covers_it(course: Course, complete: Place, as_: As) -> None:
    page = text(as_("manager").get(path("coverage", course)))

    # courses/library/laws.toml, Florida 5J-18.009: (f) braking systems, covered by items of the line
    assert "Fla. Admin. Code 5J-18.009" in page
    braking = page[page.index("braking systems") :].split("</tr>")[0]
    assert "Line 1 Heron" in braking
    assert "Missing" not in braking
    assert "means of communication" in page


def test_a_change_of_the_calendar_counts_at_once_and_shows_its_reason(
    course: Course, complete: Place, as_: As, morning: Any
) -> None:
    client, address = as_("manager"), path("calendar_edit", course)

    _response, again = look(client, address, closed="2026-06-24\n2026-07-01", source="Works on the road")
    client.post(address, again)

    assert setup_at(course, morning).calendar == build.CALENDAR | {"closed": ["2026-06-24", "2026-07-01"], "extra": []}
    assert "Works on the road" in text(client.get(path("calendar", course)))
    wrong = client.post(address, filled(client, address, closed="24.06.2026", source="x"))
    assert "“24.06.2026” is not a date. Type year-month-day, as in 2026-06-24." in text(wrong)


# --- components


def test_a_component_is_entered_described_and_fitted(course: Course, complete: Place, as_: As) -> None:
    client = as_("manager")
    client.post(path("component_add", course), {"tag": "ec-02", "kind": "cord", "label": "cord of 2026"})
    cord = Component.objects.get(tag="EC-02")
    address = path("component_data", course, cord)
    changes = {
        "dates__made": "2026-01-10", "figure__0__baseline": "3150", "figure__0__baseline_date": "2026-05-02",
        "figure__0__gauge": "tape T-1", "max_cycles": "5000",
    }  # fmt: skip

    _response, again = look(client, address, **changes, source="Maker's sheet 3")
    client.post(address, again)
    client.post(path("component_fit", course, cord), {"where": f"{complete.pk}|emergency-1"})

    assert Version.objects.get(component=cord).content == {
        "dates": {"made": "2026-01-10"}, "max_cycles": "5000",
        "figures": {"cord.free_length": {"baseline": "3150", "baseline_date": "2026-05-02", "gauge": "tape T-1"}},
    }  # fmt: skip
    page = text(client.get(path("component", course, cord)))
    assert "Line 1 Heron" in page
    assert "Emergency brake 1" in page
    old = text(client.get(path("component", course, Component.objects.get(tag="EC-01"))))
    assert "Fitted before" in old


def test_a_baseline_without_date_and_gauge_is_refused_in_words(course: Course, complete: Place, as_: As) -> None:
    client, address = as_("manager"), path("component_data", course, Component.objects.get(tag="EC-01"))

    response = client.post(address, filled(client, address, figure__0__baseline="3150", source="Own reading"))

    assert "needs its date and its gauge." in text(response)


def test_a_component_is_retired_only_when_it_is_marked_or_destroyed(course: Course, complete: Place, as_: As) -> None:
    cord = Component.objects.get(tag="EC-01")
    client, address = as_("manager"), path("component_retire", course, cord)

    refused = client.post(address, {"why": "Worn."})
    client.post(address, {"why": "Worn.", "destroyed": "on"})

    assert "Confirm that it is marked as unfit or destroyed" in text(refused)
    cord.refresh_from_db()
    assert cord.retired_why == "Worn."


def test_components_are_found_by_code_and_kind(course: Course, complete: Place, as_: As) -> None:
    client, address = as_("technician"), path("components", course)

    assert "SP-01" in text(client.get(address))
    by_code = text(client.get(address, {"tag": "sp"}))
    by_kind = text(client.get(address, {"kind": "termination"}))

    assert ("SP-01" in by_code, "TL-01" in by_code) == (True, False)
    assert ("SP-01" in by_kind, "TL-01" in by_kind, "TG-01" in by_kind) == (False, True, True)
    assert "No component fits this search." in text(client.get(address, {"tag": "zzz"}))


def test_gear_is_placed_in_a_rack(course: Course, as_: As) -> None:
    for number in (1, 2):
        build.component(course, "trolley", f"TR-{number:02d}")
    client, address = as_("technician"), path("racks", course)

    unknown = client.post(address, {"rack": "A", "tags": "TR-01 TR-09"})
    client.post(address, {"rack": "A", "tags": "tr-01, TR-02"})

    assert "Not in the register: TR-09." in text(unknown)
    assert re.search(r"Rack A <span class=\"faint\">2</span>", text(client.get(address)))


# --- what is missing, and what it costs


def test_the_set_up_names_what_is_missing_place_by_place(course: Course, complete: Place, as_: As) -> None:
    make.line(course, 2, "Kestrel")

    page = text(as_("manager").get(path("setup", course)))

    assert "Line 2 Kestrel" in page
    assert "24 missing" in page
    assert "Designer of record, Length of the line" in page
    lacking = page.split("Missing, place by place")[1].split("</section>")[0]
    assert "Line 1 Heron" not in lacking


PAGES = ("setup", "lines", "platforms", "components", "criteria", "coverage", "calendar", "proposals", "racks")


@pytest.mark.parametrize("name", PAGES)
def test_queries_do_not_grow_with_the_course(course: Course, complete: Place, as_: As, staff: Any, name: str) -> None:
    client, address = as_("manager"), path(name, course)

    def count() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        return len(queries)

    few = count()
    for number in range(2, 6):
        more = make.line(course, number, f"More {number}")
        build.settle(course, "line", build.LINE, people=staff, place=more)
        build.component(course, "trolley", f"TR-{number:02d}")
        actions.propose(
            course, "platform", build.PLATFORM, source="Folder", place=more.launch, deed=make.deed(staff["engineer"])
        )

    assert count() == few
    assert few <= 12


def test_an_own_age_limit_judges_the_dates_of_the_register(course: Course, complete: Place, as_: As) -> None:
    client, address = as_("engineer"), path("limit_edit", course, complete, "MC-17@cable")

    _response, again = look(
        client, address, age="12", age_unit="age_months", age_from="last_done", watch_high="11", source="Manual, p. 9"
    )
    client.post(address, again)
    version = Version.objects.get(subject=f"limits:{complete.pk}")

    (kept,) = version.content["items"]["MC-17@cable"]["rules"]
    rule = limits.rule_from_dict(kept)
    # Twelve months after 15 May 2025 end on 15 May 2026, by the calendar.
    done = {"day": "2026-06-15", "last_done": "2025-05-15"}
    assert str(limits.judge(None, [rule], done).verdict) == "withdraw"
    assert str(limits.judge(None, [rule], done | {"last_done": "2025-12-01"}).verdict) == "ok"
    wrong = client.post(address, filled(client, address, watch_high="13", source="Manual, p. 9"))
    assert "The watch begins before the limit is reached." in text(wrong)
