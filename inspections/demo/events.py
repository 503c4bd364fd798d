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
from inspections.judging import Answer
from inspections.models import Finding, Hold
from inspections.picture import Picture, picture_of

Step = Callable[[Any, date, Any], None]


@dataclass(frozen=True)
class Morning:
    """Answers that differ (by place and item key), deeds before and after the signing, and what is left undone.

    ``closed`` are lines that the manager leaves closed for the day; ``said`` is the note at the closing, in which
    ``%(yesterday)s`` stands for the date of the day before.
    """

    answers: dict[tuple[str, str], dict[str, Any]] = field(default_factory=dict)
    after: tuple[Step, ...] = ()
    day: tuple[Step, ...] = ()
    late: bool = False
    nobody_came: bool = False
    closed: tuple[int, ...] = ()
    said: str = ""
    leave_out: tuple[str, int, str] | None = None


def _now(cast: Any, on: date, clock: Any, seconds: int) -> Picture:
    return picture_of(cast.course, at=clock.tick(seconds), on=on)


def _finding(cast: Any, **wanted: Any) -> Finding:
    return Finding.objects.select_related("course__operator__log", "place", "component").get(
        course=cast.course, state="open", **wanted
    )


def pay_debts(key: str, tag: str, photo: str) -> Step:
    """Who leads that morning adds what was owed: the number of the tag and a photo."""

    def step(cast: Any, on: date, clock: Any) -> None:
        who = cast.season.crew(on)[0]
        actions.add_to_finding(
            _now(cast, on, clock, 240),
            _finding(cast, key=key, is_watch=False),
            text="Seen and marked at the place.",
            tag_number=tag,
            photos=(cast.photo(photo, who, clock.now),),
            deed=cast.deed(who, clock.now),
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


def let_wait(place: str, title: str, days: int, seen: str, why: str, photo: str) -> Step:
    """Something slight that a technician sees, and that the manager lets wait until a date, for a reason."""

    def step(cast: Any, on: date, clock: Any) -> None:
        picture = _now(cast, on, clock, 180)
        who = cast.season.crew(on)[0]
        entry = actions.open_finding(
            picture,
            next(one for one in picture.setup.places.values() if place_key(one) == place),
            title=title,
            severity="minor",
            is_watch=True,
            text=seen,
            photos=(cast.photo(photo, who, clock.now),),
            deed=cast.deed(who, clock.now),
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
        picture = _now(cast, on, clock, 3600)
        who = cast.season.crew(on)[1]
        actions.record_work(
            picture,
            finding,
            what="replacement",
            replacement=spare,
            energy_released=True,
            locked_out=True,
            text="Spring pack replaced, guides cleaned and greased.",
            made_by="Own workshop, after the maker's manual",
            photos=(cast.photo("spring-new", who, clock.now),),
            deed=cast.deed(who, clock.now),
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
        cast.season.rides(picture, picture.setup.places[place.pk], clock, both=True)
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
    lead, other = cast.season.crew(on)
    actions.call_hold(
        _now(cast, on, clock, 3 * 3600), None, cause="thunder", text="", deed=cast.deed("guide", clock.now)
    )
    hold = Hold.objects.get(course=cast.course, lifted_at__isnull=True)
    for where, said_by in (("launch", "Gwen Tarrant"), ("landing", cast.people[other].name)):
        actions.tell_hold(
            _now(cast, on, clock, 60),
            hold,
            where=where,
            text=f"{said_by}, by radio",
            deed=cast.deed(lead, clock.now),
        )
    actions.renew_hold(_now(cast, on, clock, 600), hold, deed=cast.deed(lead, clock.now))
    actions.lift_hold(_now(cast, on, clock, 2100), hold, given={"looked": "yes"}, deed=cast.deed(lead, clock.now))


def gust(cast: Any, on: date, clock: Any) -> None:
    who = cast.season.crew(on)[0]
    actions.call_hold(_now(cast, on, clock, 2 * 3600), None, cause="gust", text="", deed=cast.deed(who, clock.now))
    hold = Hold.objects.get(course=cast.course, lifted_at__isnull=True)
    actions.lift_hold(_now(cast, on, clock, 1500), hold, given={"wind": "4.1"}, deed=cast.deed(who, clock.now))


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
    "photos": ["block"],
}
NOBODY_CAME = (
    "Nothing was entered on %(yesterday)s: both technicians were ill, the course stayed shut all day and nobody rode."
)

EVENTS: dict[int, Morning] = {
    6: Morning(day=(add_spare,)),
    12: Morning(day=(thunder,)),
    17: Morning(
        answers={
            ("store1", "gear@HE-07"): {"mark": "defect", "note": "Crack at the left rivet.", "reason": "Photo follows."}
        },
        after=(pay_debts("gear@HE-07", "0417", "helmet"),),
    ),
    18: Morning(after=(retire_gear("gear@HE-07", "Cut through and thrown away."),)),
    34: Morning(late=True),
    40: Morning(day=(gust,)),
    49: Morning(nobody_came=True),
    50: Morning(said=NOBODY_CAME),
    51: Morning(
        answers={
            ("store1", "gear@LA-11"): {
                "mark": "defect",
                "note": "Stitching frayed at the swivel.",
                "reason": "Photo follows.",
            }
        },
        after=(pay_debts("gear@LA-11", "0418", "lanyard"), retire_gear("gear@LA-11", "Cut into pieces.")),
    ),
    55: Morning(closed=(6,)),  # the last line: nobody depends on it to get off a platform
    57: Morning(
        answers={("line2", "BS-1@primary-1"): WITHDRAWN},
        after=(pay_debts("BS-1@primary-1", "0419", "spring-short"),),
        day=(replace_spring(2, "BS-1@primary-1", "BP-02S"),),
    ),
    -1: Morning(
        answers={("line4", "BH-2@primary-1"): TORN},
        after=(
            pay_debts("BH-2@primary-1", "0420", "block-tagged"),
            let_wait(
                "platform3",
                "Paint flaking at the foot of the pole, a hand wide",
                21,
                "No rust below it, the wood is dry and hard.",
                "Dry season; the painter is booked. Looked at every morning until then.",
                "pole-foot",
            ),
        ),
        leave_out=("line", 6, "landing"),
    ),
}
