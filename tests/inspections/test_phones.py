"""What phones owe: who says so, what it holds, when it ends. Source: the rules of the service as its makers wrote them
down; that five minutes of silence count as away is their judgement."""

from __future__ import annotations

import uuid
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from accounts.models import Role
from accounts.signing import ALONE, OLD_PAGE
from inspections import actions
from inspections.actions.erasing import forget
from inspections.facts import line_statuses
from inspections.models import Phone
from inspections.phone_words import told_of
from inspections.phones import KINDS, OTHER, Owed, Seen, to_ask
from inspections.rebuild import chain_faults, projection_faults
from ledger.actions import as_text
from ledger.models import Entry
from tests import make
from tests.inspections.phone_steps import deed, hello, owed, phones


@pytest.fixture
def w(day_open: SimpleNamespace, w: SimpleNamespace) -> SimpleNamespace:
    w.phone = uuid.uuid4()
    return w


def words(w: SimpleNamespace, minutes: float = 21) -> list[str]:
    return [status.word for status in line_statuses(make.picture(w, w.t(minutes)))]


# --- what is owed


def test_a_hold_that_has_not_arrived_holds_its_line_and_no_other(w: SimpleNamespace) -> None:
    assert words(w) == ["open", "open"]

    hello(w, deed(w))

    statuses = line_statuses(make.picture(w, w.t(21)))
    assert [status.word for status in statuses] == ["held", "open"]
    assert [one.sentence for one in statuses[0].clearance.reasons] == ["A phone reported a hold that has not arrived."]


@pytest.mark.parametrize(
    ("kind", "more"),
    [
        pytest.param("hold", {}, id="a hold of which no place is told"),
        pytest.param("hold", {"place": "nonsense"}, id="one whose place cannot be read"),
        pytest.param("hold", {"place": str(uuid.uuid4())}, id="one of a place that is not there"),
        pytest.param("finding-opened", {}, id="a finding of which no place is told"),
    ],
)
def test_what_may_be_about_any_line_holds_all(w: SimpleNamespace, kind: str, more: dict[str, str]) -> None:
    page = f"/course/{w.course.pk}/line/{w.line.pk}/"  # a hold of the whole course is called from there, too

    hello(w, deed(w, kind, line=None, page=page, **more))

    assert words(w) == ["held", "held"]


@pytest.mark.parametrize("what", ["out", "unknown"])
def test_a_sheet_holds_nothing_unless_it_takes_something_out_or_leaves_it_unchecked(
    w: SimpleNamespace, what: str
) -> None:
    page = f"/course/{w.course.pk}/sheet/{w.line.pk}/cable/"
    sheet = deed(w, "sheet", line=None, page=page)

    hello(w, sheet)
    assert words(w) == ["open", "open"]
    hello(w, sheet | {what: True})

    assert words(w) == ["held", "open"]


def test_a_finding_on_a_platform_holds_the_lines_that_end_there_and_on_a_house_all(w: SimpleNamespace) -> None:
    hello(w, deed(w, "finding-opened", line=None, place=str(w.lines[0].launch_id)))
    assert words(w) == ["held", "open"]

    hello(w, deed(w, "finding-opened", line=None, place=str(w.house.pk)))

    assert words(w) == ["held", "held"]


def test_pooled_gear_holds_no_line(w: SimpleNamespace) -> None:
    harness = make.picture(w, w.t(20)).setup.at_place(w.store)[0].component

    hello(w, deed(w, "finding-opened", line=None, place=str(w.store.pk), part=str(harness.pk)))

    assert words(w) == ["open", "open"]
    assert len(owed(w)) == 1


def test_it_is_owed_until_it_arrives(w: SimpleNamespace) -> None:
    one = deed(w)
    hello(w, one)
    arrived = make.deed(w.technician, at=w.t(22), id=uuid.UUID(one["id"]))

    actions.call_hold(make.picture(w, w.t(22)), w.line, cause="object", deed=arrived)

    assert owed(w, 23) == []
    assert [phone.taken_back for phone in phones(w, 23)] == [()]
    assert words(w, 23) == ["held", "open"]


def test_what_a_phone_has_no_longer_was_taken_back_on_it_and_may_come_again(w: SimpleNamespace) -> None:
    one = deed(w, "sheet", unknown=True)
    hello(w, one)
    assert words(w, 22) == ["held", "open"]
    hello(w, minutes=25)

    assert words(w, 26) == ["open", "open"]
    assert [taken.gone_at for phone in phones(w, 26) for taken in phone.taken_back] == [w.t(25)]
    told = told_of(phones(w, 26), on=w.at.date(), at=w.t(26), zone=w.course.zone)
    # 05:55 UTC in summer
    assert told["back"] == [
        f"Taken back on the phone at 07:55 (Tarik Oben): {one['title']}, with something not checked."
    ]
    hello(w, one, minutes=27)
    assert words(w, 28) == ["held", "open"]


@pytest.mark.parametrize(("kind", "more"), [("hold", {}), ("finding-opened", {}), ("sheet", {"out": True})])
def test_what_others_were_told_of_is_not_lifted_by_taking_it_back_on_its_phone(
    w: SimpleNamespace, kind: str, more: dict[str, Any]
) -> None:
    """Nobody answers for it there: a manager does, by an entry."""
    one = deed(w, kind, **more)
    hello(w, one)
    hello(w, minutes=25)

    assert words(w, 26) == ["held", "open"]
    assert owed(w, 26) == [one["id"]]
    assert to_ask(phones(w, 26), w.at.date(), w.t(26)) == {one["id"]}
    told = told_of(phones(w, 26), on=w.at.date(), at=w.t(26), zone=w.course.zone)
    assert told["owed"][0].endswith(" (taken back on the phone).")
    entry = actions.set_aside(
        w.course, Phone.objects.get(), one["id"], text="Ein Versehen", deed=make.deed(w.manager, at=w.t(27))
    )
    assert entry.record["act"]["owed"] == one["id"]
    assert words(w, 28) == ["open", "open"]
    hello(w, minutes=29)
    assert words(w, 30) == ["open", "open"]


@pytest.mark.parametrize(
    ("section", "by", "is_owed"),
    [("cable", "technician", False), ("launch", "technician", True), ("cable", "mate", True)],
)
def test_a_sheet_that_was_signed_anew_since_is_put_right_by_the_same_sheet_and_person_alone(
    w: SimpleNamespace, section: str, by: str, is_owed: bool
) -> None:
    page = f"/course/{w.course.pk}/sheet/{w.line.pk}/cable/"
    hello(w, deed(w, "sheet", page=page, out=True))
    hello(w, minutes=25)

    make.sign(w, w.line, section, by=getattr(w, by), at=w.t(26))

    assert bool(owed(w, 27)) is is_owed
    told = told_of(phones(w, 27), on=w.at.date(), at=w.t(27), zone=w.course.zone)
    assert [one.startswith("Put right on the phone, and recorded since") for one in told["back"]] == [True] * (
        not is_owed
    )


def test_a_phone_whose_storage_was_emptied_is_another_phone_and_the_first_still_owes(w: SimpleNamespace) -> None:
    one = deed(w)
    hello(w, one)

    hello(w, phone=uuid.uuid4(), minutes=25)

    assert owed(w, 26) == [one["id"]]
    assert words(w, 26) == ["held", "open"]


@pytest.mark.parametrize(
    ("kind", "stands"), [("sheet", ALONE), ("ride", ALONE), ("hold", OLD_PAGE), ("finding-opened", OLD_PAGE)]
)
def test_it_is_over_when_it_is_too_old_to_be_taken(w: SimpleNamespace, kind: str, stands: timedelta) -> None:
    one = deed(w, kind)
    hello(w, one)
    later = stands // timedelta(minutes=1) + 20

    hello(w, one, minutes=later - 1)

    assert owed(w, later) == [one["id"]]
    assert owed(w, later + 1) == []


def test_a_hold_of_friday_is_owed_on_monday_though_its_phone_was_not_heard_of(w: SimpleNamespace) -> None:
    one = deed(w)
    hello(w, one)
    monday = 3 * 24 * 60
    assert owed(w, monday) == [one["id"]]
    assert words(w, monday)[0] == "held"

    # Another phone that comes ten days later makes nobody forget it; nor does who takes it back there.
    hello(w, phone=uuid.uuid4(), minutes=10 * 24 * 60)
    assert owed(w, 10 * 24 * 60 + 1) == [one["id"]]
    hello(w, minutes=10 * 24 * 60 + 2)
    assert owed(w, 10 * 24 * 60 + 3) == [one["id"]]
    assert [len(one.taken_back) for one in phones(w, 10 * 24 * 60 + 3)] == [0, 0]


def test_another_person_on_the_phone_takes_nothing_back_and_tells_it_only_once(w: SimpleNamespace) -> None:
    one = deed(w, "sheet")
    hello(w, one)

    hello(w, one, who=w.mate, minutes=25)
    assert [(phone.name, len(phone.owes)) for phone in phones(w, 26)] == [("Runa Feld", 0), ("Tarik Oben", 1)]
    hello(w, who=w.mate, minutes=27)
    assert owed(w, 28) == [one["id"]]

    hello(w, minutes=29)

    assert owed(w, 30) == []


def test_whoever_signed_it_takes_back_what_only_another_person_has_told(w: SimpleNamespace) -> None:
    one = deed(w, "sheet")
    hello(w, one, who=w.mate)
    assert owed(w) == [one["id"]]

    hello(w, minutes=25)

    assert owed(w, 26) == []


def test_two_phones_owe_each_their_own(w: SimpleNamespace) -> None:
    first, second = deed(w), deed(w, "sheet", line=2, title="Line 2 cable", ref=w.mate.ref)
    hello(w, first)
    hello(w, second, who=w.mate, phone=uuid.uuid4(), minutes=22)

    told = told_of(phones(w, 23), on=w.at.date(), at=w.t(23), zone=w.course.zone)

    assert told["owed"] == [
        "On a phone last seen at 07:52 (Runa Feld): Line 2 cable.",
        "On a phone last seen at 07:50 (Tarik Oben): Hold: Line 1.",
    ]
    of_line = told_of(
        phones(w, 23), on=w.at.date(), at=w.t(23), zone=w.course.zone, setup=make.picture(w, w.t(23)).setup, line=w.line
    )
    assert of_line["owed"] == ["On a phone last seen at 07:50 (Tarik Oben): Hold: Line 1."]


def test_a_stranger_owes_nothing_here_and_holds_nothing(w: SimpleNamespace) -> None:
    elsewhere = make.course(make.operator("Far Away"), "Far Away Lines")
    stranger = make.person(elsewhere.operator, "manager", name="Sten Fern")

    hello(w, deed(w), who=stranger)

    assert owed(w) == []
    assert [(row.operator_id, row.owes) for row in Phone.objects.all()] == [(elsewhere.operator_id, [])]


def test_an_auditor_who_signs_nothing_on_a_phone_owes_nothing(w: SimpleNamespace) -> None:
    hello(w, deed(w), who=w.auditor)

    assert not Phone.objects.exists()


@pytest.mark.parametrize(
    "odd",
    [
        pytest.param({"id": "1", "kind": "hold"}, id="no identity"),
        pytest.param("text", id="no deed at all"),
        pytest.param(None, id="nothing"),
        pytest.param({"id": str(uuid.uuid4()), "kind": "hold", "page": "/menu/"}, id="of no course"),
        pytest.param("kind", id="a kind that is not known"),
        pytest.param("signs", id="signs that no database keeps"),
    ],
)
def test_what_cannot_be_read_may_be_of_any_line_and_silences_nothing_beside_it(w: SimpleNamespace, odd: Any) -> None:
    one = deed(w, line=2)
    made = {"kind": deed(w, "something-newer"), "signs": deed(w, "a\0b\ud800", title="a\0b\ud800")}
    told = made.get(odd, odd) if isinstance(odd, str) else odd

    hello(w, told, one)
    hello(w, told, one, minutes=21)

    found = [of for phone in phones(w, 22) for of in phone.owes]
    assert sorted(of.kind for of in found) == ["hold", "other"]
    assert one["id"] in {of.id for of in found}
    assert words(w, 22) == ["held", "held"]
    assert len(owed(w, 3 * 24 * 60)) == 2
    hello(w, one, minutes=23)
    assert words(w, 24) == ["open", "held"]


def test_more_than_can_be_told_is_told_as_one_thing_of_any_line(w: SimpleNamespace) -> None:
    notes = [deed(w, "finding-note") for _one in range(201)]

    hello(w, *notes[:200])
    assert (len(owed(w)), words(w)) == (200, ["open", "open"])
    hello(w, *notes)

    assert (len(owed(w)), words(w)) == (201, ["held", "held"])


@pytest.mark.parametrize("more", [{"kind": "finding-note"}, {"line": 2}, {"gone": True}])
def test_another_phone_that_tells_of_the_same_deed_silences_nothing(w: SimpleNamespace, more: dict[str, Any]) -> None:
    one = deed(w)
    hello(w, one)
    gone = more.get("gone")
    other = one | (deed(w, **more) if not gone else {}) | {"id": one["id"], "ref": w.mate.ref}

    for phone in (uuid.uuid4(), w.phone):
        hello(w, other, who=w.mate, phone=phone, minutes=22)
        if gone:
            hello(w, who=w.mate, phone=phone, minutes=23)

        assert words(w, 24)[0] == "held"


def test_what_somebody_else_records_under_its_identity_is_not_what_is_owed(w: SimpleNamespace) -> None:
    one = deed(w)
    hello(w, one)
    other = make.deed(w.mate, at=w.t(22), id=uuid.UUID(one["id"]))

    actions.call_hold(make.picture(w, w.t(22)), w.lines[1], cause="object", deed=other)

    assert owed(w, 23) == [one["id"]]
    assert words(w, 23) == ["held", "held"]


def test_what_is_owed_by_who_may_sign_nothing_any_more_is_told_and_holds_nothing(w: SimpleNamespace) -> None:
    own, mates = deed(w), deed(w, line=2, ref=w.mate.ref)
    hello(w, own, mates)
    assert words(w) == ["held", "held"]

    Role.objects.filter(user=w.technician).update(until=w.t(22))

    assert words(w, 23) == ["open", "held"]  # what somebody else signed on that phone may still come
    assert set(owed(w, 23)) == {own["id"], mates["id"]} == to_ask(phones(w, 23), w.at.date(), w.t(23))

    Phone.objects.update(owes=[one | {"gone_at": as_text(w.t(23))} for one in Phone.objects.get().owes])
    assert owed(w, 24) == [mates["id"]]  # taken back there, what could not come is nothing to wait for


def test_titles_are_cut_and_one_person_has_twenty_phones_a_week(w: SimpleNamespace, refused: Any) -> None:
    hello(w, deed(w, title="x" * 5000))
    assert [len(one.title) for phone in phones(w) for one in phone.owes] == [120]
    for _more in range(19):
        hello(w, phone=uuid.uuid4())

    with refused("phones-many"):
        hello(w, phone=uuid.uuid4())

    hello(w, phone=uuid.uuid4(), minutes=8 * 24 * 60)
    # Those of the week before are forgotten, but not the one that owes a hold.
    assert [bool(one.owes) for one in Phone.objects.order_by("seen_at")] == [True, False]


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_whatever_phones_say_no_line_is_better_for_it(w: SimpleNamespace, data: st.DataObject) -> None:
    picture = make.picture(w, w.t(21))
    before = line_statuses(picture)
    places = st.sampled_from([None, uuid.uuid4(), *picture.setup.places])
    times = st.none() | st.just(w.t(20))
    deeds = st.builds(
        Owed, st.uuids().map(str), st.sampled_from([*sorted(KINDS), OTHER]), st.text(max_size=9), st.just("p-1"),
        places, st.none() | st.uuids(), st.booleans(), st.just(w.t(15)), times, times, st.just(""), st.booleans(),
    )  # fmt: skip
    some = st.lists(deeds, max_size=3).map(tuple)
    who = (
        st.uuids(),
        st.uuids(),
        st.text(max_size=9),
        st.just("p-1"),
        st.just(w.t(5)),
        st.none() | st.just(w.at.date()),
    )

    picture.phones = data.draw(st.lists(st.builds(Seen, *who, some, some, some), max_size=3))

    for old, new in zip(before, line_statuses(picture), strict=True):
        assert new.word in {old.word, "held"}
        assert set(new.clearance.reasons) >= set(old.clearance.reasons)
        assert not new.clearance.is_ready or new.clearance.limits == old.clearance.limits


# --- set aside


def test_set_aside_it_holds_nothing_whoever_tells_of_it_again(w: SimpleNamespace) -> None:
    one = deed(w)
    hello(w, one)

    row = Phone.objects.get()
    entry = actions.set_aside(w.course, row, one["id"], deed=make.deed(w.manager, at=w.t(22)))

    assert entry.kind == "phone-aside"
    seen = "2026-06-15T05:50:00Z"
    assert {name: entry.record["act"][name] for name in ("owed", "kind", "place", "ref", "since")} == {
        "owed": one["id"], "kind": "hold", "place": str(w.line.pk), "ref": w.technician.ref, "since": seen
    }  # fmt: skip
    assert entry.record["judged"] == {"seen_at": seen, "ref": w.technician.ref}
    assert list(chain_faults(w.operator)) == list(projection_faults(w.operator)) == []
    assert words(w, 23) == ["open", "open"]
    hello(w, one, minutes=24)
    hello(w, one, who=w.mate, minutes=25)
    assert owed(w, 26) == []
    assert [(aside.aside_by, aside.aside_at) for phone in phones(w, 26) for aside in phone.aside] == [
        (w.manager.ref, w.t(22))
    ]


def test_all_that_a_phone_owes_is_set_aside_by_one_entry_but_not_what_came_since(w: SimpleNamespace) -> None:
    one, note, later = deed(w), deed(w, "finding-note", line=None), deed(w, line=2)
    hello(w, one, note)
    row = Phone.objects.get()
    shown = {one["id"], note["id"]}
    hello(w, one, note, later, minutes=21)

    entry = actions.set_all_aside(w.course, row, shown, deed=make.deed(w.manager, at=w.t(22)))

    since = "2026-06-15T05:50:00Z"
    assert entry.kind == "phone-aside"
    assert entry.record["act"]["all_owed"] == [
        {"id": one["id"], "kind": "hold", "place": str(w.line.pk), "ref": w.technician.ref, "since": since},
        {"id": note["id"], "kind": "finding-note", "ref": w.technician.ref, "since": since},
    ]
    assert list(chain_faults(w.operator)) == list(projection_faults(w.operator)) == []
    assert (owed(w, 23), words(w, 23)) == ([later["id"]], ["open", "held"])


def test_setting_aside_what_one_phone_says_leaves_what_another_says_of_it(w: SimpleNamespace) -> None:
    one = deed(w)
    hello(w, one)
    hello(w, one | {"kind": "finding-note"}, who=w.mate, phone=uuid.uuid4(), minutes=21)
    row = Phone.objects.get(person=w.mate)

    entry = actions.set_aside(w.course, row, one["id"], deed=make.deed(w.manager, at=w.t(22)))

    assert entry.record["act"]["kind"] == "finding-note"
    assert words(w, 23) == ["held", "open"]


def test_only_who_signs_the_day_sets_aside_and_only_what_is_owed(w: SimpleNamespace, refused: Any) -> None:
    one = deed(w)
    hello(w, one)
    row = Phone.objects.get()

    with refused("no-right"):
        actions.set_aside(w.course, row, one["id"], deed=make.deed(w.technician, at=w.t(22)))
    with refused("phone-owes-not"):
        actions.set_aside(w.course, row, str(uuid.uuid4()), deed=make.deed(w.manager, at=w.t(22)))
    with refused("no-right"):
        actions.set_all_aside(w.course, row, {one["id"]}, deed=make.deed(w.technician, at=w.t(22)))
    with refused("phone-owes-not"):
        actions.set_all_aside(w.course, row, set(), deed=make.deed(w.manager, at=w.t(22)))

    assert owed(w, 23) == [one["id"]]


def test_with_a_persons_name_their_phones_are_forgotten(w: SimpleNamespace) -> None:
    hello(w, deed(w))
    hello(w, who=w.mate, phone=uuid.uuid4())

    forget(w.operator, {"person": w.technician.ref}, entry=Entry.objects.filter(log=w.operator.log).latest("seq"))

    assert [row.person_id for row in Phone.objects.all()] == [w.mate.pk]


# --- away


def test_a_phone_with_today_on_it_is_away_after_five_minutes_until_it_is_logged_out(w: SimpleNamespace) -> None:
    hello(w, has=w.at.date())
    on = w.at.date()

    assert not to_ask(phones(w, 25), on, w.t(25))
    assert to_ask(phones(w, 26), on, w.t(26)) == {str(Phone.objects.get().pk)}
    told = told_of(phones(w, 26), on=on, at=w.t(26), zone=w.course.zone)
    assert told["away"] == (
        "A phone has pages of today with it and is away: Tarik Oben (last seen at 07:50). "
        "What was signed on it since is not known here."
    )
    assert not to_ask(phones(w, 26), on + timedelta(days=1), w.t(26))
    actions.put_away(w.technician, w.phone)
    assert not to_ask(phones(w, 26), on, w.t(26))


def test_who_does_not_inspect_is_not_away_with_anything(w: SimpleNamespace) -> None:
    hello(w, has=w.at.date(), who=w.guide)

    assert not to_ask(phones(w, 50), w.at.date(), w.t(50))
