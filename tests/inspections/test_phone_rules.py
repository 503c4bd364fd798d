"""A phone without a signal answers each item as the server's autosave would: the same words, the same questions.

The verdicts behind them are held to published criteria in tests/engineering; here the two programs are compared, on
every sheet of a course, on texts as a thumb types them.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.http import QueryDict

from courses.models import Course, Place
from inspections import phone_rules
from inspections.actions.drafts import versions_shown
from inspections.actions.rides import judge_ride, ride_items
from inspections.actions.sheets import open_points
from inspections.facts import line_statuses
from inspections.forms.items import answer_from
from inspections.judging import TYPED_KINDS, Answer
from inspections.models import Draft
from inspections.picture import Picture
from inspections.views import keeping, ride
from tests import make
from tests.inspections.test_jump import U, read_yesterday, settle_gauge
from tests.inspections.test_sheets import _add_an_item, _tighten
from tests.phone.node import answers

FIGURES = (
    "599",
    "0.35",
    "12",
    "1,234",
    "11.8 / 11.7",
    "0",
    "0.4",
    "0.4 in",
    "1 1/2",
    "x",
    "585",
    "99999",
    "7.",
    "-3",
    "20 / 20 mm",
)
MARKS = ("sound", "defect", "cannot_check", "")
NOTES = ("", "", "seen twice")
MARK = "TA-04M@end-landing"


def rules_of(picture: Picture, draft: Draft) -> dict[str, Any]:
    return phone_rules.sheet_rules(picture, draft, keeping.judged_of(picture, draft))


def carried(found: dict[str, Any]) -> dict[str, Any]:
    """Return what a page carries, as it is read there."""
    return dict(json.loads(json.dumps(found)))


def fields_of(item: dict[str, Any], number: int) -> dict[str, str]:
    """Return what stands in the form about one item, other things for each number."""
    key = item["key"]
    found = {f"note-{key}": NOTES[number % 3], f"kept-{key}": ""}
    if item["kind"] not in TYPED_KINDS:
        mark = MARKS[number % 4]
        found |= {f"mark-{key}": mark} if mark else {}
        return found | ({f"kept-{key}": "defect"} if number % 8 == 5 else {})
    text = FIGURES[number % len(FIGURES)]
    first, _, second = text.partition(" / ") if item["kind"] == "pair" else (text, "", "")
    found |= {f"text-{key}": first} | ({f"second-{key}": second} if item["kind"] == "pair" else {})
    if number % 7 == 6:
        found |= {f"text-{key}": "", f"mark-{key}": "cannot_check"}
    return found | ({f"kept-{key}": text} if number % 4 == 3 else {})


def posted(fields: dict[str, str]) -> QueryDict:
    found = QueryDict(mutable=True)
    found.update(fields)
    return found


def told(item: dict[str, Any]) -> dict[str, Any]:
    """Return the server's answer without the photos, which only the server has."""
    found = keeping.answer_of(item)
    del found["photos"]
    return {name: value or None for name, value in found.items()}


def opened(picture: Picture, place: Place, section: str, person: Any, **more: Any) -> Draft:
    return Draft(
        course=picture.course, date=picture.date, place=place, section=section, person=person, started_at=picture.at,
        changed_at=picture.at, **{"versions": versions_shown(picture, place), **more},
    )  # fmt: skip


def sheets(picture: Picture, w: SimpleNamespace) -> Iterator[Draft]:
    for place in picture.setup.places.values():
        for section in picture.sections(place):
            if section.items and not section.is_rack:
                yield opened(picture, place, section.name, w.technician)


def compare(picture: Picture, drafts: list[Draft], times: int = 13) -> list[dict[str, Any]]:
    """Hold the phone's answers to the server's on every item of the sheets; return them."""
    tasks: list[dict[str, Any]] = []
    expected: list[Any] = []
    for page, draft in enumerate(drafts):
        had = draft.content
        tasks.append({"task": "page", "carried": carried(rules_of(picture, draft))})
        expected.append(page)
        items = [one.item for one in keeping.judged_of(picture, draft)]
        for number in range(times):
            every = {item["key"]: fields_of(dict(item), number + at) for at, item in enumerate(items)}
            draft.content = {
                item["key"]: {
                    **had.get(item["key"], {}),
                    **answer_from(posted(every[item["key"]]), item, picture.course.units),
                }
                for item in items
            }
            judged = keeping.judged_of(picture, draft)
            for one in judged:
                key = one.item["key"]
                tasks.append({"task": "answer", "page": page, "key": key, "fields": every[key]})
                expected.append(told(keeping.drawn(picture, draft, one, judged, {})))
        draft.content = had
    found = [as_server(one) for one in answers(tasks)]
    assert [(a, b, c) for a, b, c in zip(tasks, found, expected, strict=True) if b != c][:2] == []
    return [one for one in expected if isinstance(one, dict)]


def as_server(answer: Any) -> Any:
    if not isinstance(answer, dict):
        return answer
    return {name: value or None for name, value in answer.items() if name != "hold"}


def test_every_item_of_a_course_is_answered_alike(w: SimpleNamespace) -> None:
    picture = make.picture(w, w.t(0))
    found = compare(picture, list(sheets(picture, w)))
    assert {one["verdict"] for one in found} == {"ok", "watch", "unknown", "withdraw", None}
    assert sum(one["ask"] is not None for one in found) > 30
    assert sum(one["choices"] is not None for one in found) > 10


def test_after_a_reading_its_last_figure_and_slips_are_told_alike(w: SimpleNamespace) -> None:
    settle_gauge(w, str(U))
    read_yesterday(w)
    make.sign(w, w.line, "landing", at=w.at - timedelta(days=1))
    make.sign(w, w.line, "cable", at=w.at - timedelta(days=1))
    picture = make.picture(w, w.t(0))
    found = compare(picture, list(sheets(picture, w)))
    assert sum(one["difference"] is not None for one in found) > 10
    asked = " ".join(one["ask"]["sentence"] for one in found if one["ask"])
    assert "than last time" in asked
    assert "Measure a second time" in asked


def test_in_us_units_they_are_told_alike(w: SimpleNamespace) -> None:
    Course.objects.filter(pk=w.course.pk).update(units="us")
    w.course = Course.objects.get(pk=w.course.pk)  # of this test alone
    settle_gauge(w, str(U))
    read_yesterday(w)
    make.sign(w, w.line, "landing", at=w.at - timedelta(days=1))
    picture = make.picture(w, w.t(0))
    found = compare(picture, list(sheets(picture, w)))
    assert any("lb (" in one["ask"]["sentence"] for one in found if one["ask"])


def test_under_rules_that_changed_since_the_stricter_counts_on_the_phone_too(w: SimpleNamespace) -> None:
    before = make.picture(w, w.t(0))
    draft = opened(before, w.line, "landing", w.technician)
    _tighten(w, MARK, "0.3", at=1)
    _add_an_item(w, at=2)
    picture = make.picture(w, w.t(3))
    draft = opened(picture, picture.setup.places[w.line.pk], "landing", w.technician, versions=draft.versions)
    page = rules_of(picture, draft)
    assert "then" in page["items"][MARK]
    assert "then" not in page["items"]["NEW-1@end-landing"]
    compare(picture, [draft])


def test_what_the_draft_holds_is_known_on_the_phone(w: SimpleNamespace) -> None:
    picture = make.picture(w, w.t(0))
    draft = opened(picture, picture.setup.places[w.line.pk], "landing", w.technician)
    keys = [one.item["key"] for one in keeping.judged_of(picture, draft)]
    draft.content = {key: {"reason": "no ladder"} for key in keys}
    found = compare(picture, [draft], times=8)
    assert not any(one["need"] for one in found)


def test_a_ride_is_answered_alike(w: SimpleNamespace) -> None:
    make.inspect(w, at=w.t(1))
    picture = make.picture(w, w.t(5))
    line = picture.setup.places[w.line.pk]
    tasks: list[dict[str, Any]] = [{"task": "page", "carried": carried(phone_rules.ride_rules(picture, line))}]
    expected: list[Any] = [0]
    for number in range(26):
        every = {item["key"]: fields_of(item, number + at) for at, item in enumerate(ride_items(picture, line))}
        read = {
            item["key"]: Answer.of(answer_from(posted(every[item["key"]]), item, picture.course.units))
            for item in ride_items(picture, line)
        }
        for one in judge_ride(picture, line, read):
            key = one.item["key"]
            tasks.append({"task": "answer", "page": 0, "key": key, "fields": every[key]})
            expected.append(told(ride._drawn(picture, line, one)))
    found = [as_server(one) for one in answers(tasks)]
    assert [(a, b, c) for a, b, c in zip(tasks, found, expected, strict=True) if b != c][:2] == []


def test_what_a_page_carries_is_light(w: SimpleNamespace) -> None:
    make.sign(w, w.line, "landing", at=w.at - timedelta(days=1))
    picture = make.picture(w, w.t(0))
    sizes = {}
    for draft in sheets(picture, w):
        page = rules_of(picture, draft)
        size = len(gzip.compress(json.dumps(page).encode()))
        sizes[str(draft.place), draft.section, len(page["items"])] = size

    assert max(sizes.values()) <= 8 * 1024, sizes


# --- before a sheet is signed alone


def asked_before(picture: Picture, draft: Draft, fields: dict[str, str]) -> dict[str, list[str]]:
    page = carried(rules_of(picture, draft))
    return dict(answers([{"task": "page", "carried": page}, {"task": "open", "page": 0, "fields": fields}])[1])


def test_what_the_server_would_not_take_is_asked_before_it_is_signed_alone(w: SimpleNamespace) -> None:
    """What ``actions.sign_sheet`` refuses a figure for is named; of marks the form itself knows it (wanting.mjs)."""
    picture = make.picture(w, w.t(0))
    draft = opened(picture, picture.setup.places[w.line.pk], "landing", w.technician)
    for number in range(14):
        items = [one.item for one in keeping.judged_of(picture, draft)]
        every = {name: text for item in items for name, text in fields_of(dict(item), number).items()}
        content = {item["key"]: answer_from(posted(every), item, picture.course.units) for item in items}
        draft.content = {key: found for key, found in content.items() if found.get("text") or found.get("mark")}
        judged = keeping.judged_of(picture, draft)
        wanted = open_points(picture, draft.place, judged)
        of_marks = {one.item["key"] for one in judged if one.item["kind"] not in TYPED_KINDS}
        named = {one.item["text"] for one in judged if one.item["key"] in wanted and one.item["key"] in draft.content}
        marked = {one.item["text"] for one in judged if one.item["key"] in of_marks}
        found = asked_before(picture, opened(picture, draft.place, "landing", w.technician), every)["open"]
        texts = {one.item["text"] for one in judged}
        assert {text for text in texts if any(line.startswith(text) for line in found)} - marked == named - marked, (
            number
        )


@pytest.mark.parametrize(
    ("key", "typed", "holds"),
    [
        ("TA-06@end-landing", {"mark": "sound"}, ""),
        ("TA-06@end-landing", {"mark": "defect"}, "holds Line 1 Line 1."),
        ("TA-06@end-landing", {"mark": "cannot_check", "note": "dark"}, "until somebody has checked it."),
        ("BS-1@primary-1", {"text": "599"}, ""),
        ("BS-1@primary-1", {"text": "560", "kept": "560", "note": "twice"}, "holds Line 1 Line 1."),
    ],
)
def test_what_will_hold_the_line_is_said_as_the_signed_sheet_then_holds_it(
    w: SimpleNamespace, key: str, typed: dict[str, str], holds: str
) -> None:
    picture = make.picture(w, w.t(0))
    draft = opened(picture, picture.setup.places[w.line.pk], "landing", w.technician)
    good = make.answers(w, w.line, "landing", at=w.t(0))
    every = {}
    for name, answer in good.items():
        every |= {f"text-{name}": answer["text"]} if "text" in answer else {f"mark-{name}": "sound"}
    every |= {f"{name}-{key}": text for name, text in typed.items()}
    said = asked_before(picture, draft, every)["holds"]
    assert [(one["key"], holds in one["said"]) for one in said] == ([(key, True)] if holds else [])
    # The same sheet signed: the line is held by it, or not, for the reasons of engineering.clearance.
    item = next(one.item for one in keeping.judged_of(picture, draft) if one.item["key"] == key)
    answer = answer_from(posted({**every, f"kept-{key}": typed.get("text") or "defect"}), item, "metric")
    make.inspect(w, at=w.t(1), but=("landing",))
    make.sign(w, w.line, "landing", at=w.t(2), answers={key: {"note": "seen", **answer}})
    reasons = {one.code for one in line_statuses(make.picture(w, w.t(3)))[0].clearance.reasons}
    assert bool(reasons & {"item-withdraw", "item-unknown", "finding-critical", "finding-major"}) is bool(holds)


def test_a_place_says_which_lines_need_it(w: SimpleNamespace) -> None:
    picture = make.picture(w, w.t(0))
    [launch] = [one for one in picture.setup.platforms if one.pk == w.line.launch_id]
    assert phone_rules.lines_needing(picture, w.house) == "every line"
    assert str(w.line) in phone_rules.lines_needing(picture, launch)
    assert phone_rules.lines_needing(picture, w.line) == str(w.line)
