"""The pages of checklists, limits, criteria, calendar and components, as an engineer and a manager use them."""

import re
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from courses import actions, checklists
from courses.models import Component, Course, Place, Version
from courses.queries import setup_at
from engineering import limits
from tests import make
from tests.courses import build
from tests.courses.pages import As, filled, look, path, text

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


ADDED = {
    "text": "How far is the fence from the cable?", "look": "Measure at the second post.", "kind": "figure",
    "unit": "m", "slot": "cable", "sheet": "cable", "reach": "hand", "source": "Letter of the authority",
    "class": "major", "every": "30",
}  # fmt: skip


def test_the_look_warns_that_a_line_is_held_until_the_limit_of_a_new_item_counts(
    course: Course, complete: Place, as_: As, morning: Any
) -> None:
    """A first limit needs a second person and counts from the next operating day (16 June 2026, a Tuesday)."""
    client, address = as_("engineer"), path("checklist_add", course, complete)

    response, again = look(client, address, **ADDED)
    page = text(response)

    assert "Held as soon as you send this, until the limit counts: Line 1 Heron." in page
    assert "OWN-1 (How far is the fence from the cable?)" in page
    assert "Entered and confirmed today, it counts from Tuesday 16 June" in page
    assert "somebody has to look at the new item" in page
    assert 'name="counts" value="next-day"' in page
    assert "What this holds" in page

    sent = client.post(address, again | {"counts": "next-day"}, follow=True)
    assert "Version 2 counts from Tuesday 16 June." in text(sent)
    assert "OWN-1 (How far" in text(sent).split("No limit is in force for")[1].split("What they measure")[0]
    # Nothing is held meanwhile, and the limit can be entered although the item is not in force yet.
    assert "OWN-1@cable" not in [one["key"] for one in setup_at(course, morning).checklist(complete).content["items"]]
    limit = path("limit_edit", course, complete, "OWN-1@cable")
    _response, again = look(client, limit, high="3", source="Letter of the authority")
    client.post(limit, again)
    assert "OWN-1@cable" in Version.objects.get(subject=f"limits:{complete.pk}").content["items"]
    assert "This item is not in force yet" in text(client.get(path("limits", course, complete)))


def test_an_item_that_is_only_looked_at_needs_no_limit(course: Course, complete: Place, as_: As) -> None:
    client, address = as_("engineer"), path("checklist_add", course, complete)

    page = text(look(client, address, **ADDED | {"kind": "look", "unit": ""})[0])

    assert "Held as soon as" not in page
    assert "somebody has to look at the new item" in page


def test_an_item_of_a_platform_names_the_lines_that_begin_or_end_there(
    course: Course, complete: Place, as_: As
) -> None:
    assert complete.launch is not None
    client, address = as_("engineer"), path("checklist_add", course, complete.launch)
    there = {"slot": "platform", "sheet": "platform"}

    page = text(look(client, address, **ADDED | there)[0])
    minor = text(look(client, address, **ADDED | there | {"class": "minor"})[0])

    assert "until the limit counts: Line 1 Heron." in page
    assert "Line 1 Heron" not in minor  # a minor item of a platform holds nothing


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
