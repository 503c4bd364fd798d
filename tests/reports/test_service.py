"""Service life on a part's page: which clock ends it first, and that a figure that is missing makes it unknown.

Days are counted by hand from the calendar of the course (open every day). The forecast is case "4 points" of the
statistics dossier's table of wear (DERIVED): early after 16.8388 thousand riders.
"""

from __future__ import annotations

import re
from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from courses import actions
from courses.models import Component
from courses.queries import placements_of
from inspections.wear_record import counts_of
from reports.service import Service, service_of
from reports.wear import wear_of
from tests import make
from tests.reports import worn
from tests.reports.test_ahead import ahead as ahead_on
from tests.reports.test_ahead import change, rows


def told(w: SimpleNamespace, part: Component, day: int) -> Service | None:
    at = w.t(day * worn.DAY + worn.DAY + 30)
    placements = placements_of(part)
    counts = counts_of({one.place_id for one in placements})
    wear = wear_of(part, placements, counts, w.course, data=None, at=at)
    return service_of(part, placements, counts, w.course, [one.told for one in wear.by_key.values()], at=at)


def spring(w: SimpleNamespace, **data: Any) -> Component:
    return change(w, worn.part(w).tag, **data)


def test_the_first_clock_decides_and_the_list_ahead_says_the_same_day(w: SimpleNamespace) -> None:
    worn.ask(w)
    part = spring(w, max_cycles="10000", dates={"first_use": "2026-05-01"})
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})
    found = told(w, part, last)
    today = worn.setup_on(w, last).today

    # 6000 carried, 2000 a day: 4000 more on the second day from today; the early day of wear is the sixth.
    assert found is not None
    assert (found.life.first, found.life.ends) == ("cycles", today + timedelta(days=1))
    assert found.sentence.startswith("The service life of this part ends first by cycles, on ")
    ahead = {one.why: one.day for one in rows(ahead_on(w, last), tag=part.tag) if one.why in {"cycles", "wear"}}
    assert ahead == {"cycles": today + timedelta(days=1), "wear": today + timedelta(days=5)}
    assert {one.clock.name: one.ends for one in found.stands if one.ends} == ahead


def test_wear_decides_where_the_maker_allows_more_riders(w: SimpleNamespace) -> None:
    worn.ask(w)
    part = spring(w, max_cycles="90000", dates={"first_use": "2026-05-01"})
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})
    found = told(w, part, last)

    assert found is not None
    assert found.life.first == "wear"
    assert found.life.ends == worn.setup_on(w, last).today + timedelta(days=5)


def test_a_count_that_is_missing_makes_the_whole_unknown(w: SimpleNamespace) -> None:
    # First used in February and fitted here in May: what it carried before is not known, and may end it first.
    worn.ask(w)
    part = spring(w, max_cycles="90000")
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})
    found = told(w, part, last)

    assert found is not None
    assert (found.life.status.code, found.life.ends, found.state) == ("life-unknown", None, "unknown")
    assert found.sentence == "The service life cannot be told, because a figure is missing: cycles."


def test_a_part_at_its_limit_is_used_up(w: SimpleNamespace) -> None:
    worn.ask(w)
    last = worn.wear(w, {0: "12.0", 2: "11.0", 4: "10.0", 6: "9.0"})
    found = told(w, worn.part(w), last)

    assert found is not None
    assert (found.life.status.code, found.state) == ("life-reached", "withdraw")


def test_an_age_ends_the_life_of_gear(w: SimpleNamespace) -> None:
    # ten years from first use (EN 365 as explained by a firm, criteria/ppe-en365.toml).
    first = w.on + timedelta(days=11) - timedelta(days=3652)
    part = change(w, "HA-01", dates=dict.fromkeys(("made", "purchased", "first_use"), first.isoformat()))
    found = told(w, part, 0)

    assert found is not None
    assert (found.life.first, found.life.ends) == ("age", date(2026, 6, 26))


def test_a_figure_of_which_no_day_can_be_told_is_named(w: SimpleNamespace) -> None:
    worn.ask(w)
    last = worn.wear(w, {0: "12.0"})
    found = told(w, worn.part(w), last)

    assert found is not None
    assert found.life.ends is None
    assert "no day can be told yet" in found.untold


def test_the_page_says_it_and_leads_to_the_readings(w: SimpleNamespace, as_one: Any) -> None:
    worn.ask(w)
    part = spring(w, max_cycles="10000", dates={"first_use": "2026-05-01"})
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})
    w.clock.move_to(w.t(last * worn.DAY + worn.DAY + 30))
    found = told(w, part, last)
    assert found is not None

    html = as_one("auditor").get(reverse("reports:component", args=[w.course.pk, part.pk])).content.decode()
    own = html[html.index('id="service-life"') :]
    own = own[: own.index("</section>")]

    assert found.sentence in own
    assert all(one.sentence in own for one in found.stands)
    assert "Carried so far: 6000 of 10000 riders." in own
    anchor = re.search(r'id="(item-\d+)"[^>]*><summary class="fold"><span class="rows__title">How thick is the', html)
    assert anchor is not None
    assert f'href="#{anchor[1]}"' in own


def test_of_a_part_that_is_fitted_nowhere_nothing_is_told(w: SimpleNamespace) -> None:
    spare = actions.add_component(w.course, kind="spring", tag="SP-90", label="spring pack", deed=make.deed(w.engineer))

    assert told(w, spare, 0) is None


def test_service_life_takes_at_most_four_queries(w: SimpleNamespace) -> None:
    part = spring(w, max_cycles="10000", dates={"first_use": "2026-05-01"})
    placements = placements_of(part)
    with CaptureQueriesContext(connection) as queries:
        service_of(part, placements, {}, w.course, [], at=w.t(3 * worn.DAY))

    assert len(queries) <= 4


def test_a_count_read_off_the_part_itself_is_its_clock_of_cycles(w: SimpleNamespace) -> None:
    worn.ask(w, measures="cord.cycles", unit="count", kind="count", rules=[
        worn.rule(on=["cord.cycles"], kind="max", compare=">", unit="count", params={"limit": "40000"})
    ])  # fmt: skip
    last = worn.wear(w, {0: "100", 2: "2100"})
    found = told(w, worn.part(w), last)

    assert found is not None
    assert "cycles" in [one.clock.name for one in found.stands if one.question == "How thick is the lining?"]
    assert "wear" not in [one.clock.name for one in found.stands if one.question == "How thick is the lining?"]
