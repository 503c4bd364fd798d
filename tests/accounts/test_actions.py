"""What changes about people. The refusals are the project's own rules, none published."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import UTC, date, datetime, timedelta

import pytest

from accounts import actions, policy
from accounts.deeds import COMMAND, SESSION, Deed
from accounts.errors import Refused
from accounts.models import Authorisation, Operator, Role, User
from accounts.policy import Right
from ledger import chain
from ledger.errors import AlreadyRecorded
from ledger.models import Entry
from tests import make

AT = datetime(2026, 6, 15, 6, 0, tzinfo=UTC)
Refusal = Callable[[str], AbstractContextManager[None]]


def last(operator: Operator) -> Entry:
    return Entry.objects.filter(log=operator.log).latest("seq")


# --- founding


def test_founding_begins_a_history_of_its_own(db: None) -> None:
    founder = make.account("Mirte Valk")
    other = make.operator("Far Away")

    operator = actions.found_operator("  Kestrel   Hollow ", tz="Europe/Vienna", deed=Deed(founder, AT, COMMAND))

    assert operator.name == "Kestrel Hollow"
    assert operator.log_id != other.log_id
    assert policy.roles_of(founder, operator.pk, at=AT) == {"manager"}
    entry = Entry.objects.get(log=operator.log)
    assert (entry.seq, entry.kind) == (0, "operator-founded")
    assert entry.record["auth"] == {"how": "command", "ref": founder.ref}
    assert [role["kind"] for role in entry.record["act"]["roles"]] == ["manager"]


@pytest.mark.parametrize(
    ("how", "tz", "roles", "code"),
    [
        ("password", "UTC", ["manager"], "not-from-here"),
        (COMMAND, "Europe/Atlantis", ["manager"], "no-such-zone"),
        (COMMAND, "../../etc/passwd", ["manager"], "no-such-zone"),
        (COMMAND, "UTC", ["technician"], "last-manager"),
        (COMMAND, "UTC", ["manager", "auditor"], "auditor-independent"),
        (COMMAND, "UTC", ["manager", "queen"], "no-such-role"),
    ],
)
def test_founding_is_refused(db: None, refused: Refusal, how: str, tz: str, roles: list[str], code: str) -> None:
    founder = make.account()

    with refused(code):
        actions.found_operator("Kestrel Hollow", tz=tz, roles=roles, deed=Deed(founder, AT, how))


# --- inviting


def test_an_invited_person_is_new_has_no_password_and_has_the_roles(operator: Operator, staff: dict[str, User]) -> None:
    user = actions.invite(
        operator, "Ole.Birk@Example.org", " Ole  Birk", ["guide", "technician"], deed=make.deed(staff["manager"], at=AT)
    )

    assert (user.email, user.name, user.has_usable_password()) == ("ole.birk@example.org", "Ole Birk", False)
    assert policy.roles_of(user, operator.pk, at=AT) == {"guide", "technician"}
    assert policy.roles_of(user, operator.pk, at=AT - timedelta(seconds=1)) == frozenset()


def test_the_history_names_a_person_by_commitment_only(operator: Operator, staff: dict[str, User]) -> None:
    user = actions.invite(operator, "ole@example.org", "Ole Birk", ["guide"], deed=make.deed(staff["manager"], at=AT))

    entry = last(operator)
    assert entry.kind == "person-invited"
    assert entry.record["act"]["person"]["ref"] == user.ref
    for word in (b"Ole", b"Birk", b"example.org", staff["manager"].name.encode()):
        assert word not in bytes(entry.data)


def test_an_address_is_found_again_in_any_case_and_keeps_its_name(operator: Operator, staff: dict[str, User]) -> None:
    known = make.account("Runa Holt", email="runa@example.org")

    user = actions.invite(operator, "RUNA@Example.ORG", "Somebody Else", ["guide"], deed=make.deed(staff["manager"]))

    assert user == known
    assert User.objects.get(pk=known.pk).name == "Runa Holt"
    assert user.has_usable_password()


def test_somebody_who_left_can_be_invited_again(operator: Operator, staff: dict[str, User]) -> None:
    actions.take_role(operator, staff["guide"], "guide", deed=make.deed(staff["manager"], at=AT))

    user = actions.invite(
        operator, staff["guide"].email, "Gesa", ["technician"], deed=make.deed(staff["manager"], at=AT)
    )

    assert user == staff["guide"]
    assert policy.roles_of(user, operator.pk, at=AT) == {"technician"}


@pytest.mark.parametrize(
    ("email", "roles", "code"),
    [
        ("new@example.org", [], "no-role"),
        ("new@example.org", ["guide", "auditor"], "auditor-independent"),
        ("new@example.org", ["queen"], "no-such-role"),
        ("closed@example.org", ["guide"], "inactive"),
    ],
)
def test_an_invitation_is_refused(
    operator: Operator, staff: dict[str, User], refused: Refusal, email: str, roles: list[str], code: str
) -> None:
    make.account(email="closed@example.org", is_active=False)

    with refused(code):
        actions.invite(operator, email, "Ole Birk", roles, deed=make.deed(staff["manager"]))


def test_who_works_here_is_not_invited_again(operator: Operator, staff: dict[str, User], refused: Refusal) -> None:
    with refused("here-already"):
        actions.invite(operator, staff["guide"].email.upper(), "Gesa", ["technician"], deed=make.deed(staff["manager"]))


# --- rights and passwords


@pytest.mark.parametrize("kind", ["guide", "technician", "engineer", "auditor"])
def test_only_a_manager_looks_after_people(
    operator: Operator, staff: dict[str, User], refused: Refusal, kind: str
) -> None:
    other = make.person(operator, "technician", name="Ole Birk")
    given = actions.authorise(operator, other, "any", date(2027, 1, 1), deed=make.deed(staff["manager"]))
    deed = make.deed(staff[kind], at=AT)

    with refused("no-right"):
        actions.invite(operator, "new@example.org", "New", ["guide"], deed=deed)
    with refused("no-right"):
        actions.give_role(operator, other, "guide", deed=deed)
    with refused("no-right"):
        actions.take_role(operator, other, "technician", deed=deed)
    with refused("no-right"):
        actions.authorise(operator, other, "any", date(2027, 1, 1), deed=deed)
    with refused("no-right"):
        actions.end_authorisation(given, deed=deed)


def test_a_manager_elsewhere_has_no_say_here(operator: Operator, staff: dict[str, User], refused: Refusal) -> None:
    stranger = make.person(make.operator("Far Away"), "manager")

    with refused("no-right"):
        actions.take_role(operator, staff["guide"], "guide", deed=make.deed(stranger))


def test_what_grants_is_signed_with_the_password(operator: Operator, staff: dict[str, User], refused: Refusal) -> None:
    deed = make.deed(staff["manager"], how=SESSION)

    with refused("password-needed"):
        actions.invite(operator, "new@example.org", "New", ["guide"], deed=deed)
    with refused("password-needed"):
        actions.give_role(operator, staff["guide"], "technician", deed=deed)
    with refused("password-needed"):
        actions.authorise(operator, staff["technician"], "any", date(2027, 1, 1), deed=deed)


def test_a_right_that_was_taken_meanwhile_no_longer_counts(
    operator: Operator, staff: dict[str, User], refused: Refusal
) -> None:
    second = make.person(operator, "manager", name="Ivo Nord")
    deed = make.deed(second, at=AT)
    assert policy.may(second, operator.pk, Right.PEOPLE, at=AT)
    actions.take_role(operator, User.objects.get(pk=second.pk), "manager", deed=make.deed(staff["manager"], at=AT))

    with refused("no-right"):
        actions.take_role(operator, staff["guide"], "guide", deed=deed)


def test_nobody_changes_their_own_rights(operator: Operator, refused: Refusal) -> None:
    both = make.person(operator, "manager", "technician", name="Ivo Nord")
    given = actions.authorise(operator, both, "gear", date(2027, 1, 1), deed=make.deed(make.founder_of(operator)))

    with refused("own-roles"):
        actions.give_role(operator, both, "engineer", deed=make.deed(both))
    with refused("own-roles"):
        actions.take_role(operator, both, "technician", deed=make.deed(both))
    with refused("own-roles"):
        actions.authorise(operator, both, "spring", date(2027, 1, 1), deed=make.deed(both))
    with refused("own-roles"):
        actions.end_authorisation(given, deed=make.deed(both))


def test_a_command_may_where_two_people_are_all_there_are(db: None) -> None:
    founder = make.account("Mirte Valk")
    operator = actions.found_operator("Two Alone", roles=["manager", "technician"], deed=Deed(founder, AT, COMMAND))

    actions.authorise(operator, founder, "spring", date(2027, 1, 1), deed=Deed(founder, AT, COMMAND))

    assert last(operator).record["auth"]["how"] == "command"
    assert Authorisation.objects.get().user == founder


# --- roles


def test_an_acting_manager_is_one_until_the_end_and_not_at_it(operator: Operator, staff: dict[str, User]) -> None:
    end = AT + timedelta(days=3)

    role = actions.give_role(operator, staff["engineer"], "manager", until=end, deed=make.deed(staff["manager"], at=AT))

    engineer = staff["engineer"]
    assert policy.may(engineer, operator.pk, Right.SIGN_OFF, at=end - timedelta(seconds=1))
    assert not policy.may(engineer, operator.pk, Right.SIGN_OFF, at=end)
    assert last(operator).record["act"]["role"] == {
        "id": str(role.pk), "kind": "manager", "until": "2026-06-18T06:00:00Z",
    }  # fmt: skip


def test_a_role_is_not_given_twice_nor_into_the_past(
    operator: Operator, staff: dict[str, User], refused: Refusal
) -> None:
    deed = make.deed(staff["manager"], at=AT)

    with refused("role-held"):
        actions.give_role(operator, staff["guide"], "guide", deed=deed)
    with refused("end-in-the-past"):
        actions.give_role(operator, staff["guide"], "technician", until=AT, deed=deed)
    with refused("role-not-held"):
        actions.take_role(operator, staff["guide"], "technician", deed=deed)


def test_an_auditor_has_no_other_role_at_the_same_operator(
    operator: Operator, staff: dict[str, User], refused: Refusal
) -> None:
    deed = make.deed(staff["manager"], at=AT)

    with refused("auditor-independent"):
        actions.give_role(operator, staff["auditor"], "guide", deed=deed)
    with refused("auditor-independent"):
        actions.give_role(operator, staff["guide"], "auditor", deed=deed)


def test_an_auditor_here_may_work_elsewhere(operator: Operator, staff: dict[str, User]) -> None:
    elsewhere = make.operator("Far Away")

    actions.invite(elsewhere, staff["auditor"].email, "Aino", ["manager"], deed=make.deed(make.founder_of(elsewhere)))

    assert policy.roles_of(staff["auditor"], operator.pk, at=AT) == {"auditor"}
    assert policy.roles_of(staff["auditor"], elsewhere.pk, at=AT) == {"manager"}


def test_a_taken_role_ends_in_that_instant(operator: Operator, staff: dict[str, User]) -> None:
    assert policy.may(staff["guide"], operator.pk, Right.HOLD, at=AT)

    actions.take_role(operator, staff["guide"], "guide", deed=make.deed(staff["manager"], at=AT))

    assert policy.rights_of(staff["guide"], operator.pk, at=AT) == frozenset()
    assert policy.may(staff["guide"], operator.pk, Right.HOLD, at=AT - timedelta(seconds=1))
    assert last(operator).kind == "role-taken"


def test_nobody_takes_the_last_lasting_manager_away(operator: Operator, refused: Refusal) -> None:
    founder = make.founder_of(operator)
    acting = make.person(operator, "technician")
    closed = make.person(operator, "manager", name="Left Long Ago")
    closed.is_active = False
    closed.save()
    actions.give_role(operator, acting, "manager", until=AT + timedelta(days=9), deed=make.deed(founder, at=AT))

    with refused("last-manager"):
        actions.take_role(operator, founder, "manager", deed=make.deed(acting, at=AT))

    second = make.person(operator, "manager", name="Ivo Nord")
    actions.take_role(operator, founder, "manager", deed=make.deed(second, at=AT))
    assert policy.roles_of(founder, operator.pk, at=AT) == frozenset()


# --- authorisations


def test_an_authorisation_counts_from_the_local_date(operator: Operator, staff: dict[str, User]) -> None:
    late = datetime(2026, 6, 15, 22, 30, tzinfo=UTC)  # half past midnight in Vienna, which is UTC+2 in June

    given = actions.authorise(
        operator, staff["technician"], "spring", date(2027, 5, 31), deed=make.deed(staff["manager"], at=late)
    )

    assert (given.since, given.until) == (date(2026, 6, 16), date(2027, 5, 31))
    assert last(operator).record["act"]["since"] == "2026-06-16"


def test_a_newer_authorisation_takes_the_place_of_the_older(operator: Operator, staff: dict[str, User]) -> None:
    older = Authorisation.objects.get(user=staff["technician"], subject="any")

    newer = actions.authorise(
        operator, staff["technician"], "any", date(2028, 1, 1), deed=make.deed(staff["manager"], at=AT)
    )

    older.refresh_from_db()
    assert older.ended_at == AT
    assert newer.ended_at is None
    assert last(operator).record["act"]["replaces"] == [str(older.pk)]


def test_an_authorisation_is_refused(operator: Operator, staff: dict[str, User], refused: Refusal) -> None:
    deed = make.deed(staff["manager"], at=AT)

    with refused("not-inspector"):
        actions.authorise(operator, staff["guide"], "any", date(2027, 1, 1), deed=deed)
    with refused("end-in-the-past"):
        actions.authorise(operator, staff["technician"], "any", date(2026, 6, 14), deed=deed)
    with refused("no-such-subject"):
        actions.authorise(operator, staff["technician"], "sails", date(2027, 1, 1), deed=deed)


def test_an_authorisation_ends_once(operator: Operator, staff: dict[str, User], refused: Refusal) -> None:
    given = Authorisation.objects.get(user=staff["technician"])

    ended = actions.end_authorisation(given, deed=make.deed(staff["manager"], at=AT))

    assert ended.ended_at == AT
    assert last(operator).kind == "authorisation-ended"
    with refused("ended-already"):
        actions.end_authorisation(given, deed=make.deed(staff["manager"], at=AT))


def test_authorisations_end_with_the_last_role_that_inspects(operator: Operator) -> None:
    founder = make.founder_of(operator)
    person = make.person(operator, "technician", "engineer", name="Ivo Nord")
    given = actions.authorise(operator, person, "spring", date(2027, 1, 1), deed=make.deed(founder, at=AT))

    actions.take_role(operator, person, "technician", deed=make.deed(founder, at=AT))
    given.refresh_from_db()
    assert given.ended_at is None

    actions.take_role(operator, person, "engineer", deed=make.deed(founder, at=AT))
    given.refresh_from_db()
    assert given.ended_at == AT
    assert last(operator).record["act"]["authorisations_ended"] == [str(given.pk)]


# --- the history


def test_a_deed_that_is_sent_twice_is_done_once(operator: Operator, staff: dict[str, User]) -> None:
    deed = make.deed(staff["manager"], at=AT)
    actions.invite(operator, "ole@example.org", "Ole Birk", ["guide"], deed=deed)
    entries = Entry.objects.count()

    with pytest.raises(AlreadyRecorded):
        actions.invite(operator, "ole@example.org", "Ole Birk", ["guide"], deed=deed)

    assert Entry.objects.count() == entries
    assert Role.objects.filter(user__email="ole@example.org").count() == 1


def test_the_history_of_people_is_without_fault(operator: Operator, staff: dict[str, User]) -> None:
    manager = staff["manager"]
    actions.give_role(operator, staff["guide"], "technician", deed=make.deed(manager, at=AT))
    actions.take_role(operator, staff["guide"], "guide", deed=make.deed(manager, at=AT))

    rows = Entry.objects.filter(log=operator.log).order_by("seq").values_list("seq", "data", "leaf_hash", "frontier")
    rows = [(seq, bytes(data), bytes(leaf), bytes(frontier)) for seq, data, leaf, frontier in rows]

    # Founding, five invitations, two authorisations, and the two deeds above.
    assert len(rows) == 10
    assert chain.faults(str(operator.log_id), rows) == []


# --- dates


@pytest.mark.parametrize(
    ("last_day", "end"),
    [
        # By hand. Vienna is UTC+1, in summer UTC+2; in 2026 the clocks go on at 29 March and back at 25 October.
        (date(2026, 3, 28), datetime(2026, 3, 28, 23, 0, tzinfo=UTC)),
        (date(2026, 3, 29), datetime(2026, 3, 29, 22, 0, tzinfo=UTC)),
        (date(2026, 6, 18), datetime(2026, 6, 18, 22, 0, tzinfo=UTC)),
        (date(2026, 10, 25), datetime(2026, 10, 25, 23, 0, tzinfo=UTC)),
    ],
)
def test_a_last_day_ends_with_the_local_day(last_day: date, end: datetime) -> None:
    office = Operator(name="Kestrel Hollow", tz="Europe/Vienna")

    assert office.end_of(last_day) == end
    assert office.last_day(end) == last_day


def test_refusals_are_sentences(operator: Operator, staff: dict[str, User]) -> None:
    with pytest.raises(Refused, match=r"^This person has this role already\.$"):
        actions.give_role(operator, staff["guide"], "guide", deed=make.deed(staff["manager"]))
