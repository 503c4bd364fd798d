"""What was out of the ordinary on which morning of the invented season, by its number; -1 is today."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from courses import actions as setup_actions
from courses.models import Place
from inspections import actions
from inspections.actions.releases import RELEASE_TICKS
from inspections.facts import CLOSED, OPEN, line_statuses
from inspections.judging import Answer
from inspections.models import Finding, Hold
from inspections.picture import Picture, picture_of

Step = Callable[[Any, date, Any], None]


@dataclass(frozen=True)
class Morning:
    """Answers that differ (by place and item key), deeds before and after the signing, and what is left undone."""

    answers: dict[tuple[str, str], dict[str, Any]] = field(default_factory=dict)
    after: tuple[Step, ...] = ()
    day: tuple[Step, ...] = ()
    late: bool = False
    nobody_came: bool = False
    leave_out: tuple[str, int, str] | None = None


def _now(cast: Any, on: date, clock: Any, seconds: int) -> Picture:
    return picture_of(cast.course, at=clock.tick(seconds), on=on)


def _finding(cast: Any, **wanted: Any) -> Finding:
    return Finding.objects.select_related("course__operator__log", "place", "component").get(
        course=cast.course, state="open", **wanted
    )


def pay_debts(key: str, tag: str) -> Step:
    def step(cast: Any, on: date, clock: Any) -> None:
        actions.add_to_finding(
            _now(cast, on, clock, 240),
            _finding(cast, key=key, is_watch=False),
            text="Seen and marked at the place.",
            tag_number=tag,
            photos=(cast.photo,),
            deed=cast.deed("technician", clock.now),
        )

    return step


def retire_gear(key: str, text: str) -> Step:
    def step(cast: Any, on: date, clock: Any) -> None:
        actions.close_by_retiring(
            _now(cast, on, clock, 600),
            _finding(cast, key=key),
            text=text,
            destroyed=True,
            deed=cast.deed("manager", clock.now),
        )

    return step


def decide(key: str, days: int, text: str) -> Step:
    def step(cast: Any, on: date, clock: Any) -> None:
        finding = _finding(cast, key=key, is_watch=True)
        actions.decide_watch(
            _now(cast, on, clock, 120),
            finding,
            until=on + timedelta(days=days),
            text=text,
            deed=cast.deed("manager", clock.now),
        )

    return step


def let_wait(place: str, title: str, days: int, seen: str, why: str) -> Step:
    """Something slight that a technician sees, and that the manager lets wait until a date, for a reason."""

    def step(cast: Any, on: date, clock: Any) -> None:
        picture = _now(cast, on, clock, 180)
        entry = actions.open_finding(
            picture,
            next(one for one in picture.setup.places.values() if place_key(one) == place),
            title=title,
            severity="minor",
            is_watch=True,
            text=seen,
            photos=(cast.photo,),
            deed=cast.deed("technician", clock.now),
        )
        actions.decide_watch(
            _now(cast, on, clock, 240),
            _finding(cast, seq=entry.seq),
            until=on + timedelta(days=days),
            text=why,
            deed=cast.deed("manager", clock.now),
        )

    return step


def place_key(place: Place) -> str:
    """Return the short name of a place in the table of events."""
    return f"{place.kind}{place.number}"


def replace_spring(line: int, key: str, new_tag: str) -> Step:
    """The spring pack is past its limit: a new one is fitted, looked at, ridden, released; the line opens late."""

    def step(cast: Any, on: date, clock: Any) -> None:
        place = cast.places[f"L{line}"]
        finding = _finding(cast, key=key, is_watch=False)
        spare = cast.components[new_tag]
        actions.record_work(
            _now(cast, on, clock, 3600),
            finding,
            what="replacement",
            replacement=spare,
            energy_released=True,
            locked_out=True,
            text="Spring pack replaced, guides cleaned and greased.",
            made_by="Own workshop, after the maker's manual",
            photos=(cast.photo,),
            deed=cast.deed("ruben", clock.now),
        )
        picture = _now(cast, on, clock, 900)
        actions.record_reinspection(
            picture,
            finding,
            answer=Answer(text="600.5", note="New pack, measured cold."),
            deed=cast.deed("manager", clock.now),
        )
        cast.season.sheets_of(place, on, clock)
        picture = _now(cast, on, clock, 300)
        cast.season.rides(picture, picture.setup.places[place.pk], 6 * 10 + line % 6, cast.season.rng(on), clock)
        actions.release(
            _now(cast, on, clock, 300),
            finding,
            ticks=frozenset(RELEASE_TICKS),
            tag_removed_by="applier",
            text="Rode well within the marks.",
            deed=cast.deed("manager", clock.now),
        )
        cast.season.sign(on, clock, late=False)

    return step


def thunder(cast: Any, on: date, clock: Any) -> None:
    actions.call_hold(
        _now(cast, on, clock, 3 * 3600), None, cause="thunder", text="", deed=cast.deed("guide", clock.now)
    )
    hold = Hold.objects.get(course=cast.course, lifted_at__isnull=True)
    for where in ("launch", "landing"):
        actions.tell_hold(
            _now(cast, on, clock, 60),
            hold,
            where=where,
            text="Gwen Tarrant, by radio",
            deed=cast.deed("technician", clock.now),
        )
    actions.renew_hold(_now(cast, on, clock, 600), hold, deed=cast.deed("technician", clock.now))
    actions.lift_hold(
        _now(cast, on, clock, 2100), hold, given={"looked": "yes"}, deed=cast.deed("technician", clock.now)
    )


def gust(cast: Any, on: date, clock: Any) -> None:
    actions.call_hold(
        _now(cast, on, clock, 2 * 3600), None, cause="gust", text="", deed=cast.deed("technician", clock.now)
    )
    hold = Hold.objects.get(course=cast.course, lifted_at__isnull=True)
    actions.lift_hold(_now(cast, on, clock, 1500), hold, given={"wind": "4.1"}, deed=cast.deed("technician", clock.now))


def close_two(cast: Any, on: date, clock: Any) -> None:
    """A second signing: the manager closes the longest line for the afternoon."""
    picture = _now(cast, on, clock, 4 * 3600)
    decisions = {
        str(status.line.pk): OPEN if status.clearance.is_ready and status.line.number != 6 else CLOSED
        for status in line_statuses(picture)
    }
    cast.season.record_sign_off(picture, decisions, clock.now)


def add_spare(cast: Any, on: date, clock: Any) -> None:
    tag = "BP-02S"
    component = setup_actions.add_component(
        cast.course, kind="spring", tag=tag, label="spring pack, spare", deed=cast.deed("engineer", clock.now)
    )
    cast.components[tag] = component
    from inspections.demo.build import propose_and_confirm, spring_data

    propose_and_confirm(
        cast,
        "component",
        spring_data(on),
        source="Maker's certificate of the spare (invented)",
        at=clock.tick(60),
        component=component,
    )


WITHDRAWN = {
    "text": "567.5",
    "kept": "567.5",
    "note": "Measured twice.",
    "reason": "Photo and tag follow from the workshop.",
}
TORN = {
    "mark": "defect",
    "kept": "defect",
    "note": "Bumper torn on the landing side, a piece of 2 cm is missing.",
    "reason": "See photo.",
}

EVENTS: dict[int, Morning] = {
    6: Morning(day=(add_spare,)),
    12: Morning(day=(thunder,)),
    17: Morning(
        answers={
            ("store1", "gear@HE-07"): {"mark": "defect", "note": "Crack at the left rivet.", "reason": "Photo follows."}
        },
        after=(pay_debts("gear@HE-07", "0417"),),
    ),
    18: Morning(after=(retire_gear("gear@HE-07", "Cut through and thrown away."),)),
    34: Morning(late=True),
    40: Morning(day=(gust,)),
    49: Morning(nobody_came=True),
    57: Morning(
        answers={("line2", "BS-1@primary-1"): WITHDRAWN},
        after=(pay_debts("BS-1@primary-1", "0418"),),
        day=(replace_spring(2, "BS-1@primary-1", "BP-02S"),),
    ),
    51: Morning(
        answers={
            ("store1", "gear@LA-11"): {
                "mark": "defect",
                "note": "Stitching frayed at the swivel.",
                "reason": "Photo follows.",
            }
        },
        after=(pay_debts("gear@LA-11", "0419"), retire_gear("gear@LA-11", "Cut into pieces.")),
    ),
    55: Morning(day=(close_two,)),
    -1: Morning(
        answers={("line4", "BH-2@primary-1"): TORN},
        after=(
            pay_debts("BH-2@primary-1", "0420"),
            let_wait(
                "platform2",
                "Paint flaking at the foot of the pole, a hand wide",
                21,
                "No rust below it, the wood is dry and hard.",
                "Dry season; the painter is booked. Looked at every morning until then.",
            ),
        ),
        leave_out=("line", 6, "landing"),
    ),
}
