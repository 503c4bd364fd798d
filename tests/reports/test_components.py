"""The page of a component as an auditor reads it years later: data with their source, readings with their reader.

What must be found of a part: maker's data, dates, baselines and what took its place (DESIGN.md part 6; common practice
of equipment records, no source). What lock-out must be recorded: 29 CFR 1910.147(e), READ-2.
"""

from __future__ import annotations

import re
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from courses import actions as course_actions
from courses.models import Component, Placement
from inspections import actions
from inspections.actions.releases import RELEASE_TICKS
from inspections.judging import Answer
from inspections.models import Finding, Reading
from inspections.telling import plain_figures
from ledger.models import Disclosure
from tests import make


def page(w: SimpleNamespace, as_one: Any, component: Component) -> str:
    """Return what the auditor, who has just logged in, reads of a component."""
    response = as_one("auditor").get(reverse("reports:component", args=[w.course.pk, component.pk]))
    assert response.status_code == 200
    return " ".join(response.content.decode().partition("<main")[2].partition("</main>")[0].split())


def part(w: SimpleNamespace, kind: str, at: str = "") -> Component:
    found = Component.objects.filter(course=w.course, kind=kind)
    return found.get(tag=at) if at else found.order_by("tag")[0]


def spring_at(w: SimpleNamespace, slot: str = "primary-1") -> Component:
    return Placement.objects.get(place=w.line, slot=slot, until__isnull=True).component


def out_and_replaced(w: SimpleNamespace) -> tuple[Component, Component, Finding]:
    """A spring of line 1 goes out of service at minute 8; another one is fitted at minute 9 and looked at again."""
    old = spring_at(w)
    founder = make.founder_of(w.operator)
    new = course_actions.add_component(w.course, kind=old.kind, tag="SPARE-9", label="spare", deed=make.deed(founder))
    make.settle(w, "component", make.component_data(new), at=w.t(7), component=new)
    entry = actions.take_out_of_service(
        make.picture(w, w.t(8)), w.line, title="Spring cracked", component=old, slot="primary-1", key="BS-1@primary-1",
        text="Second coil.", photos=(make.photo(w),), tag_number="0412", limit="more than 570.0 mm",
        deed=make.deed(w.technician, at=w.t(8)),
    )  # fmt: skip
    finding = Finding.objects.get(course=w.course, seq=entry.seq)
    actions.record_work(
        make.picture(w, w.t(9)), finding, what="replacement", text="New spring.", made_by="Brake works, Oddy",
        energy_released=True, locked_out=True, replacement=new, deed=make.deed(w.mate, at=w.t(9)),
    )  # fmt: skip
    return old, new, finding


def looked_at(w: SimpleNamespace, finding: Finding, text: str = "600.5") -> None:
    actions.record_reinspection(
        make.picture(w, w.t(10)), finding, answer=Answer(text=text), deed=make.deed(w.manager, at=w.t(10))
    )


# --- the register


def test_the_data_in_force_stand_with_source_date_and_who_confirmed(w: SimpleNamespace, as_one: Any) -> None:
    cable = part(w, "cable")
    data = make.component_data(cable)
    baseline = data["figures"]["rope.diameter"]

    html = page(w, as_one, cable)

    assert "Designer&#x27;s folder, sheet 4" in html
    assert "proposed by Edda Quist" in html
    assert "Confirmed by Mirte Valk" in html
    assert f'<span class="faint">Baseline:</span> {baseline["baseline"]} mm' in html
    assert '<span class="faint">Date of the baseline:</span>' in html
    assert '<span class="faint">Made:</span>' in html
    assert '<span class="faint">Construction:</span>' in html
    assert "Maker of the line:" in html


def test_what_is_not_in_the_register_is_said(w: SimpleNamespace, as_one: Any) -> None:
    cable = part(w, "cable")
    assert "Not entered." in page(w, as_one, cable)

    make.settle(
        w, "component", {**make.component_data(cable), "maker_note": "Tarn Ropes, coil 77"}, at=w.t(6), component=cable
    )
    w.clock.move_to(w.t(2 * 24 * 60))
    html = page(w, as_one, cable)

    assert "Tarn Ropes, coil 77" in html
    assert "Maker&#x27;s note</dt>" not in html
    assert "All 2 versions in the set-up" in html


def test_a_proposal_that_waits_neither_shows_nor_takes_the_gauge_away(w: SimpleNamespace, as_one: Any) -> None:
    spring = spring_at(w)
    before = page(w, as_one, spring)
    assert 'class="gauge"' in before
    course_actions.propose(
        w.course, "component", {"maker_note": "Nobody confirmed this"}, source="A letter", component=spring,
        deed=make.deed(w.engineer, at=w.t(6)),
    )  # fmt: skip

    html = page(w, as_one, spring)

    assert "Nobody confirmed this" not in html
    assert html.count('class="gauge"') == before.count('class="gauge"')


def test_gear_shows_its_limit_by_date(w: SimpleNamespace, as_one: Any) -> None:
    harness = part(w, "harness")
    reading = Reading.objects.get(component=harness, day__date=w.on)
    iso = re.fullmatch(r"until (\d{4})-(\d{2})-(\d{2})", reading.limit)
    assert iso is not None

    html = page(w, as_one, harness)

    assert re.search(rf"Until {int(iso[3])} [A-Z][a-z]+ {iso[1]}", html)
    assert "As judged on 15 June 2026" in html
    assert f"Taken in hand: is {harness.tag} in order?" in html


# --- readings


def test_the_gauge_says_the_day_of_the_reading_not_today(w: SimpleNamespace, as_one: Any) -> None:
    w.clock.move_to(w.t(40 * 24 * 60))

    html = page(w, as_one, spring_at(w))

    legend = html[html.index('class="gauge"') :].split("</figure>")[1]
    assert "▼ 15 Jun 2026" in legend
    assert "Today" not in html
    assert "read on 15 June 2026" in html


def test_each_reading_has_its_limit_its_reader_and_its_entry(w: SimpleNamespace, as_one: Any) -> None:
    spring = spring_at(w)
    reading = Reading.objects.get(component=spring, key="BS-1@primary-1", day__date=w.on)

    html = page(w, as_one, spring)

    row = next(row for row in html.split("<tr ")[1:] if f">{reading.text} mm<" in row)
    assert plain_figures(reading.limit) in row
    assert "Tarik Oben" in row
    assert reverse("reports:entry", args=[w.course.pk, reading.seq]) in row


def test_an_erased_reader_is_told_as_erased(w: SimpleNamespace, as_one: Any) -> None:
    Disclosure.objects.filter(subject=w.technician.ref).delete()

    html = page(w, as_one, spring_at(w))

    assert "name erased" in html
    assert "Tarik Oben" not in html


# --- what took its place, and findings


def test_old_part_and_new_part_lead_to_each_other(w: SimpleNamespace, as_one: Any) -> None:
    old, new, _finding = out_and_replaced(w)

    before, after = page(w, as_one, old), page(w, as_one, new)

    assert re.search(rf'Replaced by <a href="[^"]+{new.pk}/">SPARE-9</a>, 15 Jun 2026', before)
    assert re.search(rf'In place of <a href="[^"]+{old.pk}/">{old.tag}</a>', after)
    assert "In place of" not in before


def test_gear_in_a_rack_replaces_nothing(w: SimpleNamespace, as_one: Any) -> None:
    html = page(w, as_one, part(w, "harness"))

    assert "Rack B" in html
    assert "In place of" not in html
    assert "Replaced by" not in html


def test_a_finding_tells_lock_out_maker_of_the_work_and_the_new_figure(w: SimpleNamespace, as_one: Any) -> None:
    old, new, finding = out_and_replaced(w)
    looked_at(w, finding)
    again = Reading.objects.get(finding=finding.pk)

    html = page(w, as_one, old)

    assert "tag 0412" in html
    assert "Work recorded: Replacement, SPARE-9 fitted" in html
    assert "Work by Brake works, Oddy. Stored energy released. Locked out and tagged." in html
    # The part, the figure with its unit, the limit it was held against, and what came of it.
    assert f"Looked at again: {new.tag} 600.5 mm, limit {plain_figures(again.limit)}, OK" in html
    assert reverse("reports:entry", args=[w.course.pk, again.seq]) in html
    assert "600.5 mm" in page(w, as_one, new), "it is a reading of the new part"


def test_the_page_of_a_finding_tells_the_same(w: SimpleNamespace, as_one: Any) -> None:
    _old, new, finding = out_and_replaced(w)
    looked_at(w, finding)
    make.inspect(w, at=w.t(12))
    make.ride(w, w.line, at=w.t(14))
    actions.release(
        make.picture(w, w.t(16)), Finding.objects.get(pk=finding.pk), ticks=frozenset(RELEASE_TICKS),
        tag_removed_by="applier", deed=make.deed(w.manager, at=w.t(16)),
    )  # fmt: skip

    html = as_one("manager").get(reverse("inspections:finding", args=[w.course.pk, finding.pk])).content.decode()

    assert "number 0412" in html
    assert "more than 570 mm" in html
    assert f"Work recorded: Replacement, {new.tag} fitted" in html
    assert "Stored energy released. Locked out and tagged." in html
    assert "Confirmed: area inspected, whole, people clear, everyone told." in html
    assert html.count('class="mark is-released') == 2  # at its head and at its last step


def test_what_was_scrapped_is_called_by_one_word_and_not_released(w: SimpleNamespace, as_one: Any) -> None:
    harness = part(w, "harness")
    actions.take_out_of_service(
        make.picture(w, w.t(8)), w.store, title="Seam torn", component=harness, slot="B", text="Left leg loop.",
        photos=(make.photo(w),), tag_number="0413", deed=make.deed(w.technician, at=w.t(8)),
    )  # fmt: skip
    finding = Finding.objects.get(component=harness)
    actions.close_by_retiring(
        make.picture(w, w.t(9)), finding, text="Cut up.", destroyed=True, deed=make.deed(w.manager, at=w.t(9))
    )

    of_part = page(w, as_one, harness)
    of_finding = as_one("manager").get(reverse("inspections:finding", args=[w.course.pk, finding.pk])).content.decode()
    listed = as_one("auditor").get(reverse("reports:components", args=[w.course.pk]), {"tag": harness.tag})

    assert "Retired for good on 15 June 2026" in of_part
    assert of_part.count('class="mark is-withdraw"') == 2  # the finding and its last step
    for html in (of_part, of_finding):
        assert "Retired for good" in html
        assert "is-released" not in html
    assert "Retired for good." in listed.content.decode()


def test_a_component_takes_the_same_queries_however_long_it_lived(w: SimpleNamespace, as_one: Any) -> None:
    spring = spring_at(w)

    def count() -> int:
        client = as_one("auditor")
        with CaptureQueriesContext(connection) as queries:
            client.get(reverse("reports:component", args=[w.course.pk, spring.pk]))
        return len(queries)

    page(w, as_one, spring)
    before = count()
    make.inspect(w, at=w.t(24 * 60 + 5))
    w.clock.move_to(w.at + timedelta(days=2))

    assert Reading.objects.filter(component=spring).values("day").distinct().count() == 2
    assert count() == before <= 24


@pytest.mark.parametrize(
    ("stored", "shown"),
    [
        ("more than 570.0 mm", "more than 570 mm"),
        ("more than 570 mm", "more than 570 mm"),
        ("at least 12.126 mm", "at least 12.126 mm"),
        ("at least 88.10 Nm", "at least 88.1 Nm"),
        ("-1.0 kg to 1.0 kg", "-1 kg to 1 kg"),
        ("at most 100.050 m", "at most 100.05 m"),
        ("until 2030-10-10", "until 2030-10-10"),
        ("no defect", "no defect"),
    ],
)
def test_a_limit_is_written_in_one_way(stored: str, shown: str) -> None:
    # By hand: a nought behind the last decimal that counts says nothing about a limit; one before it does.
    assert plain_figures(stored) == shown
