"""A morning at random, legal deeds and illegal ones: whatever is tried, no line is open that must not be.

What must hold is written down here once more, from the tables alone and without the code that decides. Source: the
rules of the service as its makers wrote them down.
"""

from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import hypothesis.strategies as st
import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from accounts.errors import Refused
from courses.models import Component, Placement
from inspections import actions
from inspections.actions.releases import RELEASE_TICKS
from inspections.facts import line_statuses
from inspections.judging import Answer
from inspections.models import Finding, FindingStep, Hold, Ride, Sheet, SignOff
from inspections.rebuild import chain_faults, projection_faults
from ledger.errors import AlreadyRecorded
from tests import make
from tests.inspections.conftest import authorise

# ``both`` may inspect and sign the day, and so is who could open a line after having had hands on it.
PEOPLE = st.sampled_from(["technician", "both", "both", "manager", "guide"])
SIGNERS = st.sampled_from(["both", "both", "manager", "technician"])
LINES = st.integers(0, 1)
SPOTS = st.sampled_from(
    [("line", "launch"), ("line", "cable"), ("line", "landing"), ("platform", "platform"), ("house", "house")]
)
SPRING, LOOK, WIND = "BS-1@primary-1", "TA-06@end-landing", "WX-01@house"
ODD = {
    "short": {SPRING: {"text": "560", "kept": "560", "note": "Twice."}},
    "defect": {LOOK: {"mark": "defect", "kept": "defect", "note": "Stripped."}},
    "not done": {LOOK: {"mark": "not_done", "reason": "Ice."}},
    "windy": {WIND: {"text": "8.5", "kept": "8.5", "note": "Gusty."}},
}
CAUSES = st.sampled_from(["gust", "thunder", "wet", "person", "object", "hard_stop", "emergency_brake", "other"])


class Morning(RuleBasedStateMachine):
    world: SimpleNamespace
    due: set[tuple[Any, str]]

    def __init__(self) -> None:
        super().__init__()
        self.w = self.world
        self.minute = 20
        self.savepoint = transaction.atomic()
        self.savepoint.__enter__()

    def teardown(self) -> None:
        try:
            assert list(chain_faults(self.w.operator)) == []
            assert list(projection_faults(self.w.operator)) == []
        finally:
            transaction.set_rollback(True)
            self.savepoint.__exit__(None, None, None)

    # --- deeds

    def attempt(self, do: Any) -> None:
        """Do it, or be refused; anything else is an error. Time goes on either way."""
        self.minute += 1
        try:
            with transaction.atomic():
                do(self.w.at + timedelta(minutes=self.minute))
        except (Refused, AlreadyRecorded):
            pass

    def who(self, name: str) -> Any:
        return getattr(self.w, name)

    def place(self, kind: str, line: int) -> Any:
        if kind == "line":
            return self.w.lines[line]
        return self.w.platforms[line] if kind == "platform" else self.w.house

    @rule(spot=SPOTS, line=LINES, by=PEOPLE, odd=st.sampled_from(["", "", "", *ODD]))
    def sign_a_sheet(self, spot: tuple[str, str], line: int, by: str, odd: str) -> None:
        place = self.place(spot[0], line)
        known = ODD.get(odd, {})
        keys = {i["key"] for i in make.picture(self.w, self.w.at).items(place) if i["sheet"] == spot[1]}
        answers = {key: answer for key, answer in known.items() if key in keys}
        self.attempt(lambda at: make.sign(self.w, place, spot[1], by=self.who(by), at=at, answers=answers))

    @rule(line=LINES, key=st.sampled_from([SPRING, LOOK]), odd=st.sampled_from(["good", *ODD]))
    def correct_a_sheet(self, line: int, key: str, odd: str) -> None:
        place = self.w.lines[line]
        good = {SPRING: {"text": "599"}, LOOK: {"mark": "sound"}}
        answer = ODD.get(odd, good).get(key) or good[key]

        def do(at: Any) -> None:
            deed = make.deed(self.w.technician, at=at)
            sheet = Sheet.objects.filter(place=place, section="landing", signer_ref=deed.by.ref).latest("seq")
            draft = actions.draft_for(make.picture(self.w, at), place, "landing", deed=deed, amends=sheet.pk)
            draft.content = {key: answer}
            draft.save()
            actions.sign_sheet(draft, meaning="x", reason="Slip.", deed=deed)

        self.attempt(do)

    @rule(
        line=LINES,
        by=PEOPLE,
        mass=st.sampled_from(["35", "115"]),
        kind=st.sampled_from(["normal", "normal", "normal", "emergency"]),
        stroke=st.sampled_from(["2.4", "2.4", "4.4"]),
    )
    def ride(self, line: int, by: str, mass: str, kind: str, stroke: str) -> None:
        self.attempt(
            lambda at: make.ride(
                self.w,
                self.w.lines[line],
                by=self.who(by),
                at=at,
                mass=mass,
                kind=kind,
                figures={"stroke.used": stroke},
            )
        )

    @rule(by=SIGNERS, first=st.booleans(), second=st.booleans())
    def sign_the_day(self, by: str, first: bool, second: bool) -> None:
        decided = {} if first else {"line1": "closed"}
        decided |= {} if second else {"line2": "closed"}
        self.attempt(lambda at: make.open_lines(self.w, by=self.who(by), at=at, **decided))

    @rule(line=LINES, slot=st.sampled_from(["primary-1", "emergency-1", "cable", ""]), by=PEOPLE)
    def take_out(self, line: int, slot: str, by: str) -> None:
        place = self.w.lines[line]
        part = Placement.objects.filter(place=place, slot=slot, until__isnull=True).first()
        self.attempt(
            lambda at: actions.take_out_of_service(
                make.picture(self.w, at),
                place,
                title="Cracked",
                slot=slot,
                component=part and part.component,
                text="Seen.",
                photos=(make.photo(self.w),),
                tag_number="7",
                deed=make.deed(self.who(by), at=at),
            )
        )

    @rule(
        kind=st.sampled_from(["line", "platform", "house"]), line=LINES, severity=st.sampled_from(["critical", "major"])
    )
    def find_something(self, kind: str, line: int, severity: str) -> None:
        self.attempt(
            lambda at: actions.open_finding(
                make.picture(self.w, at),
                self.place(kind, line),
                title="Loose",
                severity=severity,
                deed=make.deed(self.w.mate, at=at),
            )
        )

    def _open(self, number: int) -> Finding | None:
        found = list(Finding.objects.filter(course=self.w.course, state="open").order_by("seq"))
        return found[number % len(found)] if found else None

    @rule(number=st.integers(0, 5), by=PEOPLE, what=st.sampled_from(["work", "look", "release"]))
    def do_to_a_finding(self, number: int, by: str, what: str) -> None:
        if finding := self._open(number):
            self._step(finding, by, what)

    def _step(self, finding: Finding, by: str, what: str) -> None:
        who, answer = self.who(by), Answer(text="599") if finding.key == SPRING else Answer(mark="sound")

        def do(at: Any) -> None:
            picture, deed = make.picture(self.w, at), make.deed(who, at=at)
            if what == "pay":
                actions.add_to_finding(
                    picture, finding, text="x", photos=(make.photo(self.w),), tag_number="7", deed=deed
                )
            elif what == "work":
                actions.record_work(
                    picture, finding, what="repair", text="Done.", energy_released=True, locked_out=True, deed=deed
                )
            elif what == "look":
                actions.record_reinspection(picture, finding, answer=answer, deed=deed)
            else:
                ticks = frozenset(RELEASE_TICKS)
                actions.release(picture, finding, ticks=ticks, tag_removed_by="applier", deed=deed)

        self.attempt(do)

    @rule(by=st.sampled_from(["technician", "both"]), signer=st.sampled_from(["", "both", "manager"]))
    def put_everything_right(self, by: str, signer: str) -> None:
        """What chance alone would hardly ever do in the right order: after it lines are ready, and none may be open."""
        findings = list(Finding.objects.filter(course=self.w.course, state="open"))
        for finding in findings:
            for who, what in ((by, "pay"), (by, "work"), ("mate", "look")):
                self._step(finding, who, what)
        for line in {finding.place for finding in findings if finding.place.kind == "line"}:
            self.attempt(lambda at, line=line: make.sign(self.w, line, "landing", by=self.who(by), at=at))
        for line in self.w.lines:
            if not Ride.objects.filter(place=line, day__date=self.w.at.date(), voided_by=None).exists():
                self.attempt(lambda at, line=line: make.ride(self.w, line, by=self.who(by), at=at))
        for finding in findings:
            self._step(finding, "manager", "release")
        self.minute += 30
        for hold in Hold.objects.filter(course=self.w.course, lifted_at__isnull=True):
            self._lift(hold, by)
        if signer:
            self.attempt(lambda at: make.open_lines(self.w, by=self.who(signer), at=at))

    @rule(cause=CAUSES, line=LINES, by=PEOPLE)
    def hold(self, cause: str, line: int, by: str) -> None:
        self.attempt(
            lambda at: actions.call_hold(
                make.picture(self.w, at), self.w.lines[line], cause=cause, deed=make.deed(self.who(by), at=at)
            )
        )

    @rule(number=st.integers(0, 3), by=PEOPLE, wait=st.sampled_from([0, 10, 30]))
    def lift(self, number: int, by: str, wait: int) -> None:
        found = list(Hold.objects.filter(course=self.w.course, lifted_at__isnull=True).order_by("seq"))
        if found:
            self.minute += wait
            self._lift(found[number % len(found)], by)

    def _lift(self, hold: Hold, by: str) -> None:
        given = dict.fromkeys(("looked", "seen", "counted", "radio"), "yes") | {"wind": "2.0"}
        self.attempt(
            lambda at: actions.lift_hold(
                make.picture(self.w, at), hold, given=given, deed=make.deed(self.who(by), at=at)
            )
        )

    @rule(line=LINES, limit=st.sampled_from(["0.1", "0.4", "5"]))
    def change_a_limit(self, line: int, limit: str) -> None:
        place, key = self.w.lines[line], "TA-04M@end-landing"

        def do(at: Any) -> None:
            now = make.picture(self.w, at).setup.limits(place)
            old = now["items"][key]["rules"][0]
            changed = {**now["items"][key], "rules": [{**old, "params": {**old["params"], "limit": limit}}]}
            make.settle(self.w, "limits", {"items": {**now["items"], key: changed}}, at=at, place=place)

        self.attempt(do)

    # --- what must hold

    @invariant()
    def no_line_is_open_that_must_not_be(self) -> None:
        w = self.w
        for status in line_statuses(make.picture(w, w.at + timedelta(minutes=self.minute))):
            if status.is_open:
                self._check(status.line)

    def _check(self, line: Any) -> None:
        w, today = self.w, self.w.at.date()
        around = {line.pk, line.launch_id, line.landing_id}
        pooled = Component.objects.filter(kind__in=["trolley", "harness", "lanyard", "helmet"])
        bearing = Finding.objects.filter(
            course=w.course, state="open", is_watch=False, place__in={*around, w.house.pk, w.store.pk}
        ).exclude(component__in=pooled)
        assert not bearing.filter(severity="critical").exists()
        assert not bearing.filter(severity="major", ruling_until__isnull=True).exists()
        assert not Hold.objects.filter(course=w.course, lifted_at__isnull=True, place__in=[line]).exists()
        assert not Hold.objects.filter(course=w.course, lifted_at__isnull=True, place=None).exists()

        sheets = Sheet.objects.filter(day__course=w.course, day__date=today)
        signed = set(sheets.values_list("place_id", "section"))
        needed = {spot for spot in self.due if spot[0] in {*around, w.house.pk, w.store.pk}}
        assert needed <= signed

        sign_off = SignOff.objects.filter(day__course=w.course, day__date=today).latest("seq")
        assert sign_off.lines[str(line.pk)]["decision"] == "open"
        standing = Ride.objects.filter(
            place=line, day__date=today, voided_by=None, verdict__in=["ok", "watch"], fields__kind="normal"
        )
        assert standing.exists()
        # Neither may an opening come back by itself after something serious.
        assert not Ride.objects.filter(place=line, day__date=today, voided_by__gt=sign_off.seq).exists()
        assert (
            not Finding.objects.filter(
                course=w.course, seq__gt=sign_off.seq, is_watch=False, place__in={*around, w.house.pk, w.store.pk}
            )
            .exclude(severity="minor")
            .exclude(component__in=pooled)
            .exists()
        )

        hands = set(sheets.filter(place__in=around, seq__lt=sign_off.seq).values_list("signer_ref", flat=True))
        hands |= set(
            Ride.objects.filter(place=line, day__date=today, seq__lt=sign_off.seq).values_list("signer_ref", flat=True)
        )
        hands |= set(
            FindingStep.objects.filter(
                finding__place__in=around, kind="work", on=today, seq__lt=sign_off.seq
            ).values_list("person_ref", flat=True)
        )
        assert sign_off.signer_ref not in hands
        role_refs = {w.manager.ref, w.deputy.ref, w.both.ref}
        assert sign_off.signer_ref in role_refs


@pytest.fixture(scope="module")
def with_both(built: SimpleNamespace) -> SimpleNamespace:
    """The course with both lines open, and one more person who may inspect and sign the day."""
    built.both = make.person(built.operator, "manager", "technician", name="Bea Twin")
    authorise(built, built.both, "any")
    built.due = {(place.pk, section) for place, section in make.sections(built, at=built.at)}
    make.inspect(built, at=built.at + timedelta(minutes=5))
    make.open_lines(built, at=built.at + timedelta(minutes=10))
    assert [status.word for status in line_statuses(make.picture(built, built.at + timedelta(minutes=11)))] == [
        "open"
    ] * 2
    return built


def test_no_line_is_open_that_must_not_be(with_both: SimpleNamespace, db: None) -> None:
    class OfThisCourse(Morning):
        world = with_both
        due = with_both.due

    run_state_machine_as_test(
        OfThisCourse,
        settings=settings(
            max_examples=10, stateful_step_count=12, deadline=None, suppress_health_check=list(HealthCheck)
        ),
    )
