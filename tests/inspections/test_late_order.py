"""Deeds of one line in any order of doing and of arriving: what comes late never opens what would be held without that.

The property is ours; there is no outside source for it. A day is gone through three times: as its deeds arrive; as if
each had arrived when it was done; as if each had been done when it arrived. Whatever was taken, and lets the line open
on the first way, lets it open on the other two, and not for more weights.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.db import transaction
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from accounts import deeds
from accounts.clock import Clock
from accounts.deeds import Deed, Signing
from accounts.errors import Refused
from engineering.clearance import Limits
from inspections import actions
from inspections.actions.releases import RELEASE_TICKS
from inspections.actions.rides import ride_items
from inspections.facts import line_statuses
from inspections.judging import TYPED_KINDS, Answer
from inspections.models import Finding, Hold
from tests import make

LANDING = "landing"
SPRING = "primary-1"
END = 120  # minutes after the first deed, when all have arrived


@dataclass(frozen=True)
class Done:
    """One deed: what, when it was done and when it arrived, in minutes; ``came`` is later only without a signal."""

    what: str
    at: int
    came: int

    @property
    def is_late(self) -> bool:
        return self.came > self.at


def _deed(w: SimpleNamespace, one: Done, at: int, is_late: bool) -> Deed:
    signing = None
    if is_late:
        true_at = w.t(one.at)
        signing = Signing(key="k", signature="s", alone=True, clock=Clock(0, true_at), true_at=true_at)
    return make.deed(w.technician, at=w.t(at), signing=signing, id=uuid4(), made_at=w.t(one.at) if is_late else None)


def _sheet(w: SimpleNamespace, deed: Deed) -> None:
    draft = make.draft(w, w.line, LANDING, at=deed.at)
    actions.sign_sheet(draft, meaning="I looked at it myself.", deed=deed)


def _ride(w: SimpleNamespace, deed: Deed, *, stroke: str = "", **more: str) -> None:
    now = make.picture(w, deed.at)
    figures = make.RIDE_FIGURES | ({"stroke.used": stroke} if stroke else {})
    read = {
        item["key"]: Answer(text=figures.get(item["measures"], "0.1"), kept=True)
        if item["kind"] in TYPED_KINDS
        else Answer(mark="sound", note="x")
        for item in ride_items(now, w.line)
    }
    actions.record_ride(now, w.line, raw=make.ride_raw(**more), answers=read, deed=deed)


def _work(w: SimpleNamespace, deed: Deed) -> None:
    """Take the brake out, work on it, look at it again; it is released at the end, if ballast was sent since."""
    now = make.picture(w, deed.at)
    seq = actions.take_out_of_service(
        now,
        w.line,
        title="Feder",
        slot=SPRING,
        photos=(make.photo(w),),
        text="Riss",
        tag_number="7",
        deed=deed.part("out"),
    ).seq
    finding = Finding.objects.get(seq=seq)
    actions.record_work(
        now, finding, what="repair", text="Neu", energy_released=True, locked_out=True, deed=deed.part("work")
    )
    again = make.deed(w.mate, at=deed.at)
    actions.record_reinspection(now, finding, answer=Answer(mark="sound"), deed=again)


def _hold(w: SimpleNamespace, deed: Deed) -> None:
    actions.call_hold(make.picture(w, deed.at), w.line, cause="storm", deed=deed)
    hold = Hold.objects.filter(lifted_at=None).latest("seq")
    lifting = make.deed(w.manager, at=deed.at)
    actions.lift_hold(make.picture(w, deed.at), hold, given={"looked": "yes"}, deed=lifting)


KINDS: dict[str, Callable[[SimpleNamespace, Deed], None]] = {
    "sheet": _sheet,
    "light": lambda w, deed: _ride(w, deed, mass="35"),
    "heavy": lambda w, deed: _ride(w, deed, mass="115"),
    "short": lambda w, deed: _ride(w, deed, mass="35", reached="no"),
    "windy": lambda w, deed: _ride(w, deed, mass="115", wind="8", wind_from="tail"),
    "past": lambda w, deed: _ride(w, deed, mass="115", stroke="5.9"),
    "wet": lambda w, deed: _ride(w, deed, mass="115", state="wet"),
    "emergency": lambda w, deed: _ride(w, deed, mass="115", kind="emergency"),
    "work": _work,
    "storm": _hold,
}
ONLY_WITH_A_SIGNAL = {"work"}


@contextmanager
def undone() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def _gone_through(w: SimpleNamespace, order: list[tuple[int, Done, bool]]) -> tuple[bool, Limits, set[Done]]:
    """Do the deeds in order of the given minutes; return whether the line may open, for what, and what was taken."""
    taken = set()
    for at, one, is_late in order:
        try:
            with transaction.atomic():
                KINDS[one.what](w, _deed(w, one, at, is_late))
        except Refused:
            continue
        taken.add(one)
    for finding in Finding.objects.filter(course=w.course, state="open", slot=SPRING):
        with suppress(Refused):
            ticks, deed = frozenset(RELEASE_TICKS), make.deed(w.manager, at=w.t(END))
            actions.release(make.picture(w, w.t(END)), finding, ticks=ticks, tag_removed_by="applier", deed=deed)
    found = line_statuses(make.picture(w, w.t(END + 1)))[0].clearance
    return found.is_ready, found.limits, taken


@st.composite
def days(draw: Any) -> list[Done]:
    found = []
    minutes = draw(st.lists(st.integers(0, 20), min_size=2, max_size=7, unique=True))
    for minute in minutes:
        what = draw(st.sampled_from(sorted(KINDS)))
        late = 0 if what in ONLY_WITH_A_SIGNAL else draw(st.sampled_from([0, 0, 7, 21, 50]))
        found.append(Done(what, 3 * minute + 1, 3 * minute + 1 + late))
    return found


GOOD = [Done("sheet", 1, 1), Done("light", 4, 4), Done("heavy", 7, 7)]


@pytest.fixture
def ready(w: SimpleNamespace, monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """All of the morning is signed but the landing of line 1 and its rides; what is signed alone needs no key."""
    monkeypatch.setattr(deeds, "_checked", lambda *_args: {"alg": "es256", "key": "k", "sig": "s"})
    for place, name in make.sections(w, at=w.t(0)):
        if name != LANDING or place.pk != w.line.pk:
            make.sign(w, place, name, at=w.t(0))
    return w


@settings(
    max_examples=25, deadline=None, derandomize=True, database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip
@given(days())
@example([Done("sheet", 1, 30), Done("light", 4, 31), Done("heavy", 7, 32)])
@example([Done("sheet", 1, 30), Done("light", 4, 4), Done("heavy", 7, 7)])
@example([Done("sheet", 10, 30), Done("light", 4, 32), Done("heavy", 7, 34)])
@example([*GOOD, Done("work", 20, 20), Done("heavy", 16, 40), Done("light", 13, 41)])
@example([*GOOD, Done("emergency", 20, 20), Done("heavy", 16, 40), Done("light", 13, 41)])
@example([*GOOD, Done("storm", 20, 20), Done("heavy", 16, 40), Done("light", 13, 41)])
@example([*GOOD, Done("windy", 10, 60), Done("heavy", 20, 20)])
@example([*GOOD, Done("windy", 20, 20), Done("heavy", 10, 60)])
@example([*GOOD, Done("past", 10, 60), Done("wet", 20, 20)])
@example([*GOOD, Done("work", 20, 20), Done("sheet", 25, 39), Done("heavy", 30, 40), Done("light", 33, 41)])
@example([Done("sheet", 10, 40), Done("work", 20, 20), Done("light", 23, 50), Done("heavy", 26, 51)])
def test_what_comes_late_opens_nothing_that_either_order_would_hold(ready: SimpleNamespace, day: list[Done]) -> None:
    w = ready
    came = sorted(day, key=lambda one: (one.came, one.at))
    with undone():
        is_open, limits, taken = _gone_through(w, [(one.came, one, one.is_late) for one in came])
    if not is_open:
        return
    done = sorted(taken, key=lambda one: one.at)
    with undone():
        then, narrower, _all = _gone_through(w, [(one.at, one, False) for one in done])
    with undone():
        now, widest, _all = _gone_through(w, [(one.came, one, False) for one in came if one in taken])
    assert then, "held, had each arrived when it was done"
    assert now, "held, had each been done when it arrived"
    for other in (narrower, widest):
        assert other.mass_min_kg <= limits.mass_min_kg  # type: ignore[operator]
        assert other.mass_max_kg >= limits.mass_max_kg  # type: ignore[operator]


def test_the_days_gone_through_open_and_hold(ready: SimpleNamespace) -> None:
    """Without both the property would say nothing."""
    late = [Done("sheet", 1, 30), Done("light", 4, 31), Done("heavy", 7, 32)]
    with undone():
        is_open, _limits, taken = _gone_through(ready, [(one.came, one, True) for one in late])
    assert is_open
    assert taken == set(late)
    worked = [*GOOD, Done("work", 20, 20), Done("sheet", 25, 39), Done("heavy", 30, 40), Done("light", 33, 41)]
    with undone():
        is_open, _limits, taken = _gone_through(ready, [(one.came, one, one.is_late) for one in worked])
    assert is_open
    assert taken == set(worked)
    held = [*late, Done("past", 10, 60)]
    with undone():
        is_open, _limits, taken = _gone_through(ready, [(one.came, one, True) for one in held])
    assert not is_open
    assert taken == set(held)
