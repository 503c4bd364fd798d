"""What lies ahead: each reason with its day, in order, as a page, as a table and on the board.

Days are counted by hand from the calendar of the course (open every day) and from the rule named beside each case.
"""

from __future__ import annotations

import csv
from datetime import date, timedelta
from io import StringIO
from types import SimpleNamespace
from typing import Any

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from courses import actions as course_actions
from courses.models import Component
from inspections import actions
from inspections.coming import AGE, CYCLES, DATE, DUE, INTERVAL, OUT, OVERDUE, UNKNOWN, WEAR, Coming, will_hold
from inspections.coming_words import sentence
from inspections.models import Finding
from inspections.picture import states_of
from inspections.wear_record import outlooks
from reports.ahead import Ahead, ahead_of
from tests import make
from tests.reports import worn


def ahead(w: SimpleNamespace, day: int = 0) -> Ahead:
    return ahead_of(w.course, at=w.t(day * worn.DAY + worn.DAY + 30))


def rows(found: Ahead, *, why: str = "", tag: str = "") -> list[Coming]:
    return [
        one
        for one in found.rows
        if (not why or one.why == why) and (not tag or (one.component and one.component.tag == tag))
    ]


def change(w: SimpleNamespace, tag: str, **data: Any) -> Component:
    """Change what the register says of a part; it counts from the next day."""
    part = Component.objects.get(course=w.course, tag=tag)
    content = make.component_data(part)
    dates = {**content["dates"], **data.pop("dates", {})}
    content = {**content, **data, "dates": {name: value for name, value in dates.items() if value}}
    make.settle(w, "component", content, at=w.t(8), component=part)
    return part


# --- each reason


def test_a_wearing_part_stands_there_with_its_early_day_and_what_to_order(w: SimpleNamespace) -> None:
    # Table of the statistics dossier, part 7, four points: early after 16.8388 thousand; 6 carried, 2 a day.
    worn.ask(w)
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})
    today = worn.setup_on(w, last).today
    (one,) = rows(ahead(w, last), why=WEAR)

    assert (one.state, one.day) == (DUE, today + timedelta(days=5))  # 10.8388 to come: the sixth open day from today
    orders = [order for order in ahead(w, last).orders if one.component in order.parts]
    assert [(order.label, len(order.parts), order.day, order.now) for order in orders] == [
        ("spring pack", 1, one.day, False)
    ]


def test_a_part_at_its_limit_comes_first_and_is_to_order_now(w: SimpleNamespace) -> None:
    worn.ask(w)
    last = worn.wear(w, {0: "12.0", 2: "11.0", 4: "10.0", 6: "9.0"})
    found = ahead(w, last)

    assert found.rows[0].why == WEAR
    assert found.rows[0].state == OVERDUE
    assert found.orders[0].now


def test_an_age_ends_by_its_rule(w: SimpleNamespace) -> None:
    # ten years from first use (EN 365 as explained by a firm, criteria/ppe-en365.toml).
    first = w.on + timedelta(days=11) - timedelta(days=3652)  # 2016-06-26; ten years on is 2026-06-26
    change(w, "HA-01", dates=dict.fromkeys(("made", "purchased", "first_use"), first.isoformat()))

    (one,) = [each for each in rows(ahead(w), tag="HA-01") if each.why == AGE]

    assert (one.state, one.day) == (DUE, date(2026, 6, 26))
    assert one.to_order
    assert sentence(one) == "For use until 26 June 2026."


def test_a_date_that_is_missing_is_not_known_and_comes_before_what_is_due(w: SimpleNamespace) -> None:
    cable = Component.objects.get(course=w.course, kind="cable", placements__place=w.line)
    change(w, cable.tag, dates={"last_done": ""})

    found = ahead(w)
    (one,) = [each for each in rows(found, tag=cable.tag) if each.why == DATE]

    assert (one.state, one.day) == (UNKNOWN, None)
    assert sentence(one) == "The date when it was last done is not entered."
    states = [each.state for each in found.rows]
    assert states == sorted(states, key=(OVERDUE, UNKNOWN, DUE).index)


def test_the_makers_most_cycles_are_counted_from_riders_if_the_part_was_new_here(w: SimpleNamespace) -> None:
    spring = worn.part(w)
    change(w, spring.tag, max_cycles="10000", dates={"first_use": "2026-05-01"})
    for day in range(3):
        worn.close(w, day, 2000)
    (one,) = rows(ahead(w, 3), why=CYCLES, tag=spring.tag)

    assert one.cycles == (6000, 10000)
    assert (one.state, one.day) == (DUE, worn.setup_on(w, 3).today + timedelta(days=1))  # 4000 more: the second day


def test_what_a_part_carried_elsewhere_is_not_known(w: SimpleNamespace) -> None:
    spring = worn.part(w)
    change(w, spring.tag, max_cycles="10000")  # first used in February, fitted here in May
    worn.close(w, 0, 2000)

    (one,) = rows(ahead(w, 1), why=CYCLES, tag=spring.tag)

    assert (one.state, one.day, one.cycles) == (UNKNOWN, None, None)


def test_inspections_fall_due_after_their_interval(w: SimpleNamespace) -> None:
    # Everything was looked at on the 15th; what is asked every 30 days is due on 15 July, every 90 on 13 September.
    thirty = [one for one in rows(ahead(w), why=INTERVAL) if one.every == 30]

    assert thirty
    assert {(one.state, one.day) for one in thirty} == {(DUE, w.on + timedelta(days=30))}
    assert not [one for one in rows(ahead(w), why=INTERVAL) if one.every == 90]
    assert {one.state for one in rows(ahead(w, 40), why=INTERVAL) if one.every == 30} == {OVERDUE}


def test_the_horizon_is_the_thirtieth_open_day(w: SimpleNamespace) -> None:
    assert ahead(w).until == w.on + timedelta(days=1 + 29)  # tomorrow counted


def taken_out(w: SimpleNamespace, *, minute: int = 20) -> Finding:
    at = w.t(worn.DAY + minute)
    actions.take_out_of_service(
        make.picture(w, at), w.line, title="Lining cracked", component=worn.part(w), slot="primary-1", text="Cracked.",
        tag_number="0418", photos=(make.photo(w),), deed=make.deed(w.technician, at=at),
    )  # fmt: skip
    return Finding.objects.get(component=worn.part(w), out_of_service=True)


def test_a_part_out_of_service_is_to_order_before_anything_else(w: SimpleNamespace, as_one: Any) -> None:
    # Beside it a harness whose age ended (R-402, ten years from first use: EN 365 as explained by a firm).
    old = (w.on - timedelta(days=3700)).isoformat()
    change(w, "HA-01", dates=dict.fromkeys(("made", "purchased", "first_use"), old))
    finding = taken_out(w)
    found = ahead(w)
    (row,) = rows(found, why=OUT)

    assert found.rows[0] == row
    assert (row.component, row.state, row.severity, row.last) == (worn.part(w), OVERDUE, "critical", finding.opened_on)
    assert next((one.label, one.now, one.findings) for one in found.orders) == ("spring pack", True, [finding])
    assert any("HA-01" in [part.tag for part in order.parts] for order in found.orders[1:])

    w.clock.move_to(w.t(worn.DAY + 40))
    client = as_one("auditor")
    html = client.get(reverse("reports:parts_ahead", args=[w.course.pk])).content.decode()
    table = client.get(reverse("reports:parts_ahead_table", args=[w.course.pk])).content.decode()
    first = next(csv.DictReader(StringIO(table, newline="")))
    ordered = html.split("What to keep in stock")[0]

    assert f'href="{reverse("inspections:finding", args=[w.course.pk, finding.pk])}"' in ordered
    assert "Lining cracked" in ordered
    assert (first["reason"], first["to_order"], first["component"]) == ("out_of_service", "yes", worn.part(w).tag)
    assert (first["finding"], first["finding_entry"]) == (str(finding.pk), str(finding.seq))


def test_a_part_that_was_retired_is_not_ordered_again(w: SimpleNamespace) -> None:
    finding = taken_out(w)
    deed = make.deed(w.manager, at=w.t(worn.DAY + 25))
    course_actions.retire_component(worn.part(w), why="Cracked.", destroyed=True, deed=deed)

    assert rows(ahead(w), why=OUT) == []
    assert Finding.objects.get(pk=finding.pk).state == "open"  # it is the part that is gone, not the finding


# --- board, page, table


def test_the_board_lists_what_will_hold_a_line_within_14_days(w: SimpleNamespace, as_one: Any) -> None:
    worn.ask(w)
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})
    w.clock.move_to(w.t(last * worn.DAY + worn.DAY + 30))
    setup = worn.setup_on(w, last)
    found = will_hold(setup, outlooks(setup, states_of(setup)))

    html = as_one("manager").get(reverse("inspections:board", args=[w.course.pk])).content.decode()
    of_guide = as_one("guide").get(reverse("inspections:board", args=[w.course.pk])).content.decode()

    assert [one.component for one in found] == [worn.part(w)]
    assert "Will hold a line within 14 days" in html
    assert sentence(found[0]) in html
    assert "Will hold a line" not in of_guide  # who cannot open the page is not shown the list


def test_a_minor_figure_holds_nothing(w: SimpleNamespace) -> None:
    worn.ask(w, **{"class": "minor"})
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})
    setup = worn.setup_on(w, last)

    assert will_hold(setup, outlooks(setup, states_of(setup))) == []


def test_page_and_table_say_the_same(w: SimpleNamespace, as_one: Any) -> None:
    worn.ask(w)
    last = worn.wear(w, {0: "12.0", 2: "11.7", 4: "11.5", 6: "11.1"})
    w.clock.move_to(w.t(last * worn.DAY + worn.DAY + 30))
    client = as_one("auditor")

    html = client.get(reverse("reports:parts_ahead", args=[w.course.pk])).content.decode()
    answer = client.get(reverse("reports:parts_ahead_table", args=[w.course.pk]))
    table = list(csv.DictReader(StringIO(answer.content.decode(), newline="")))

    assert answer["Content-Type"].startswith("text/csv")
    (row,) = [row for row in table if row["reason"] == WEAR]
    assert row["component"] == worn.part(w).tag
    assert (row["limit"], row["unit"], row["reading"], row["outlook"]) == ("9", "mm", "11.1", "ok")
    assert (row["reckoned_by"], row["to_order"], row["class"]) == ("cycles", "yes", "critical")
    assert row["what"] in html
    assert f"{date.fromisoformat(row['day']):%Y}" in html
    assert "Planning aid." in html
    assert len(table) == len(ahead(w, last).rows)


def test_the_page_takes_as_many_queries_for_two_lines_as_for_a_year_of_readings(
    w: SimpleNamespace, as_one: Any
) -> None:
    def count() -> int:
        client = as_one("manager")
        with CaptureQueriesContext(connection) as queries:
            client.get(reverse("reports:parts_ahead", args=[w.course.pk]))
        return len(queries)

    before = count()
    make.inspect(w, at=w.t(worn.DAY + 5))
    w.clock.move_to(w.t(worn.DAY + 20))

    assert count() == before <= 25
