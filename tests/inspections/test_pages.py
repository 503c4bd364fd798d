"""The pages of the running day as a browser asks for them: what they show, what they do, how often they ask."""

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

from inspections import actions
from inspections.models import Day, Draft, Finding, Hold, Reading, Ride, Sheet
from ledger.models import Entry
from tests import make
from tests.inspections.pages import ride_fields, sheet_url, text, url
from tests.inspections.test_photos import jpeg

MOST_QUERIES = 25

pytestmark = pytest.mark.usefixtures("clock")


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

    actions.take_out_of_service(
        make.picture(w, w.t(2)), w.line, title="Crack", component=None, slot="", deed=make.deed(w.technician, at=w.t(2))
    )
    page = text(as_("manager").get(url(w, "board")))
    assert "Signed open at 07:30, held by what came since." in page
    assert "Tell launch and landing by radio now." in page


def test_the_walk_names_every_sheet_that_is_due_and_every_ride(w: SimpleNamespace, as_: Any) -> None:
    page = as_("technician").get(url(w, "walk")).content.decode()

    for place, section in make.sections(w, at=w.t(0)):
        name, last = ("rack", section.removeprefix("rack:")) if section.startswith("rack:") else ("sheet", section)
        assert url(w, name, place.pk, last) in page
    for line in w.lines:
        assert url(w, "ride", line.pk) in page


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


@pytest.mark.parametrize(
    ("wind", "side", "sentence"),
    [
        ("9.5", "head", "9.5 m/s is above the 9 m/s of this line and holds it."),
        ("6.5", "tail", "6.5 m/s is above the 6 m/s of this line and holds it."),
        ("6.5", "calm", "6.5 m/s is above the 6 m/s of this line and holds it."),  # no side: the least of them
        ("5", "head", "5 m/s after 0.4 m/s at 07:32. If it is right, type it again."),
        ("4.9", "head", ""),  # not tenfold what still is calm
    ],
)
def test_a_wind_that_looks_like_a_slip_is_typed_twice(
    w: SimpleNamespace, as_: Any, clock: Any, wind: str, side: str, sentence: str
) -> None:
    """A ride cannot be corrected, and its wind counts for every line (judgement, no published figure)."""
    make.ride(w, w.lines[1], at=w.t(2), wind="0.4", wind_from="calm")
    clock.move_to(w.t(4))
    client, before = as_("technician"), Ride.objects.count()
    assert "wind_again" not in text(client.get(url(w, "ride", w.line.pk)))
    given = ride_fields(w, wind=wind, wind_from=side, deed_id=str(uuid4())) | {"wind_again": ""}
    page = client.post(url(w, "ride", w.line.pk), given)
    assert Ride.objects.count() == before + (not sentence)
    if not sentence:
        assert "wind_again" not in Ride.objects.latest("seq").fields
        return
    assert sentence in text(page)
    assert re.search(r'for="id_wind_again"[^>]*>\s*Wind, typed again\s*</label>', text(page))  # not "(optional)"
    wrong = client.post(url(w, "ride", w.line.pk), given | {"wind_again": "2.5"})
    assert sentence in text(wrong)
    assert 'value="2.5"' in text(wrong)
    client.post(url(w, "ride", w.line.pk), given | {"wind_again": f"{wind} m/s"})
    assert Ride.objects.count() == before + 1
    assert Ride.objects.latest("seq").fields["wind_again"] == f"{wind} m/s"


# --- findings and holds


@pytest.mark.parametrize("code", ["HA-01", "ha1", " Ha 01 "])
def test_gear_is_taken_out_by_the_code_on_its_tag_and_named_by_it_everywhere(
    w: SimpleNamespace, as_: Any, code: str
) -> None:
    client = as_("technician")
    done = client.post(url(w, "withdraw"), {"code": code, "spot": "", "title": "Strap frayed"}, follow=True)

    [finding] = Finding.objects.all()
    assert finding.component.tag == "HA-01"
    assert finding.title.endswith("HA-01: Strap frayed")
    assert "HA-01: Strap frayed" in text(done)
    assert "out of service, not handed out: HA-01" in text(client.get(url(w, "walk")))


@pytest.mark.parametrize(
    ("code", "said"),
    [("XX-99", "has the code XX-99"), ("", "Type the code on its tag, or choose what it is.")],
)
def test_a_code_that_names_nothing_takes_nothing_out(w: SimpleNamespace, as_: Any, code: str, said: str) -> None:
    page = as_("technician").post(url(w, "withdraw"), {"code": code, "spot": "", "title": "Strap frayed"})

    assert said in text(page)
    assert 'value="Strap frayed"' in text(page)
    assert not Finding.objects.exists()


def test_code_and_choice_that_name_two_parts_are_asked_back(w: SimpleNamespace, as_: Any) -> None:
    two = {"code": "HA-01", "spot": f"{w.line.pk}||", "title": "Strap frayed"}

    assert "names another part" in text(as_("technician").post(url(w, "withdraw"), two))
    assert not Finding.objects.exists()


def test_a_hold_without_its_line_is_asked_back_but_weather_needs_none(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    assert "Choose the line, or the whole course." in text(client.post(url(w, "hold"), {"cause": "object", "line": ""}))
    assert not Hold.objects.exists()

    client.post(url(w, "hold"), {"cause": "other", "line": "all"})
    assert Hold.objects.get().place is None


def test_who_called_a_person_on_the_line_confirms_only_what_was_seen(w: SimpleNamespace, as_: Any) -> None:
    as_("technician").post(url(w, "hold"), {"cause": "person", "line": str(w.line.pk)})
    lift = url(w, "lift", Hold.objects.get().pk)

    own, others = text(as_("technician").get(lift)), text(as_("manager").get(lift))
    assert "on the line or under it" in own
    assert "Everyone was counted" not in own
    assert "Everyone was counted" in others
    assert "Not everybody was told of this hold" in own

    as_("technician").post(lift, {})
    assert Hold.objects.get().lifted_at is None
    refused = text(as_("technician").post(lift, {"seen": "on"}))
    assert "Ask launch and landing first: not both are entered as told of this hold." in refused
    assert Hold.objects.get().lifted_at is None
    as_("technician").post(lift, {"seen": "on", "untold": "on"})
    assert Hold.objects.get().lifted_at is not None
    page = text(as_("auditor").get(reverse("reports:day", args=[w.course.pk, w.at.date()])))
    assert "launch and landing asked by radio just before" in page


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
    page = text(as_("technician").get(url(w, "lift", hold.pk)))
    assert f"<dt>Called by</dt><dd>{w.guide.name}</dd>" in page
    assert "<dt>Note</dt><dd>West</dd>" in page
    early = as_("technician").post(url(w, "lift", hold.pk), {"looked": "on", "untold": "on"})
    assert "30 minutes after the last thunder" in text(early)

    clock.move_to(w.t(30))
    as_("technician").post(url(w, "tell", hold.pk), {"where": "landing", "text": "Runa"})
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


def test_a_finding_is_of_the_place_that_was_chosen_and_of_no_other(w: SimpleNamespace, as_: Any) -> None:
    client, address = as_("technician"), url(w, "open_finding")
    page = text(client.get(address))
    assert re.search(r'<option value="" selected>\s*Choose …</option>', page)
    assert "Open the finding" in page
    assert "<b>Minor.</b> Written down. It holds no line." in page
    assert re.search(rf'<option value="{w.line.pk}" selected>', text(client.get(f"{address}?place={w.line.pk}")))

    client.post(address, {"place": "", "title": "Riss", "severity": "critical"})

    assert not Finding.objects.exists()
