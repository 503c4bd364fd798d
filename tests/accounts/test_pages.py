"""The pages about people, as a manager uses them."""

import uuid
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts import actions, policy
from accounts.models import Authorisation, Operator, Role, User
from accounts.policy import Right
from ledger.models import Entry
from tests import make


@pytest.fixture
def client(staff: dict[str, User], clock: Any) -> Client:
    client = Client()
    client.force_login(staff["manager"])
    return client


def path(name: str, operator: Operator, *more: Any) -> str:
    return reverse(f"accounts:{name}", args=[operator.pk, *(item.pk for item in more)])


def text(response: Any) -> str:
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def test_the_list_shows_roles_authorisations_and_what_is_due(
    client: Client, operator: Operator, staff: dict[str, User], morning: Any
) -> None:
    founder = make.founder_of(operator)
    actions.give_role(
        operator, staff["engineer"], "manager", until=operator.end_of(date(2026, 6, 20)), deed=make.deed(founder)
    )
    actions.authorise(operator, staff["technician"], "any", date(2026, 7, 1), deed=make.deed(founder))
    actions.invite(operator, "ole@example.org", "Ole Birk", ["guide"], deed=make.deed(founder))
    actions.take_role(operator, staff["auditor"], "auditor", deed=make.deed(founder))

    page = text(client.get(path("people", operator)))

    assert "Engineer, Manager until 20 June" in page
    assert "An authorisation ends soon" in page  # 1 July is 16 days from 15 June
    assert page.count("Has not chosen a password yet") == 1
    here, gone = page.split("No longer here")
    assert staff["auditor"].name in gone
    assert staff["auditor"].name not in here
    assert "An authorisation ran out" not in page


def test_an_authorisation_that_ran_out_is_shown_as_such(
    client: Client, operator: Operator, staff: dict[str, User], clock: Any
) -> None:
    actions.authorise(
        operator, staff["technician"], "any", date(2026, 6, 14), deed=make.deed(make.founder_of(operator))
    )

    assert "An authorisation ran out" in text(client.get(path("people", operator)))
    assert "Ran out on 14 June 2026" in text(client.get(path("person", operator, staff["technician"])))


def test_the_list_takes_as_many_queries_for_forty_people_as_for_six(
    client: Client, operator: Operator, staff: dict[str, User]
) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as queries:
            client.get(path("people", operator))
        return len(queries)

    few = count()
    for number in range(34):
        make.person(operator, "technician", name=f"Hand {number}")

    # Session, reader, operator with log, the reader's roles, roles with people, authorisations, the frame's course.
    assert few == count() == 7


def test_a_person_of_another_operator_is_a_stranger(client: Client, operator: Operator) -> None:
    other = make.operator("Far Away")
    stranger = make.person(other, "guide")

    assert client.get(path("person", operator, stranger)).status_code == 404
    assert client.get(path("person", other, stranger)).status_code == 404
    assert client.post(path("give_role", operator, stranger), {"kind": "guide"}).status_code == 404


def test_a_role_of_another_person_is_not_taken_by_a_crossed_address(
    client: Client, operator: Operator, staff: dict[str, User]
) -> None:
    role = Role.objects.get(user=staff["guide"])

    crossed = client.post(path("take_role", operator, staff["technician"], role))

    assert crossed.status_code == 404
    role.refresh_from_db()
    assert role.until is None


def test_ones_own_page_offers_no_change(client: Client, operator: Operator, staff: dict[str, User]) -> None:
    page = text(client.get(path("person", operator, staff["manager"])))

    assert "These are your own rights." in page
    assert "Take away" not in page
    assert "Give a role" not in page


def test_a_role_is_given_until_the_local_end_of_the_last_day(
    client: Client, operator: Operator, staff: dict[str, User], morning: Any
) -> None:
    data = {"kind": "manager", "last_day": "2026-06-17", "password": make.WORD}

    response = client.post(path("give_role", operator, staff["engineer"]), data)

    assert response["Location"] == path("person", operator, staff["engineer"])
    role = Role.objects.get(user=staff["engineer"], kind="manager")
    assert role.until.isoformat() == "2026-06-17T22:00:00+00:00"  # midnight in Vienna, UTC+2 in summer
    assert "until 17 June 2026" in text(client.get(response["Location"]))
    engineer = User.objects.get(pk=staff["engineer"].pk)
    assert policy.may(engineer, operator.pk, Right.SIGN_OFF, at=morning + timedelta(days=2))


@pytest.mark.parametrize(
    ("password", "sentence"),
    [("no-such-word", "This is not your password."), ("", "This field is required.")],
)
def test_without_the_password_nothing_is_given_and_the_form_stays(
    client: Client, operator: Operator, password: str, sentence: str
) -> None:
    entries = Entry.objects.count()
    data = {"name": "Ole Birk", "email": "ole@example.org", "roles": ["guide"], "password": password}

    page = text(client.post(path("invite", operator), data))

    assert f"Your password · {sentence}" in page
    assert 'value="ole@example.org"' in page
    assert "no-such-word" not in page
    assert Entry.objects.count() == entries
    assert not User.objects.filter(email="ole@example.org").exists()


def test_a_refusal_stands_beside_its_field(client: Client, operator: Operator, staff: dict[str, User]) -> None:
    data = {"name": "Ole", "email": "ole@example.org", "roles": ["guide", "auditor"], "password": make.WORD}

    page = text(client.post(path("invite", operator), data))

    assert "Roles · An auditor is independent and has no other role at the same operator." in page


def test_the_same_form_sent_twice_invites_once(client: Client, operator: Operator, mailoutbox: Any) -> None:
    data = {
        "name": "Ole Birk", "email": "ole@example.org", "roles": ["guide"], "password": make.WORD,
        "deed_id": str(uuid.uuid4()),
    }  # fmt: skip

    first = client.post(path("invite", operator), data)
    second = client.post(path("invite", operator), data, follow=True)

    assert first.status_code == 302
    assert "This was received already." in text(second)
    assert Entry.objects.filter(kind="person-invited", act_id=data["deed_id"]).count() == 1
    assert len(mailoutbox) == 1


def test_a_role_is_taken_on_a_page_that_asks_first(
    client: Client, operator: Operator, staff: dict[str, User], morning: Any
) -> None:
    role = Role.objects.get(user=staff["technician"])
    address = path("take_role", operator, staff["technician"], role)

    asked = text(client.get(address))
    role.refresh_from_db()
    assert role.until is None
    client.post(address)

    role.refresh_from_db()
    assert "Take the role Technician away from Tarik Oben?" in asked
    assert role.until == morning
    assert Authorisation.objects.get(user=staff["technician"]).ended_at == morning


def test_the_last_manager_is_not_taken_by_page_either(client: Client, operator: Operator, clock: Any) -> None:
    founder = make.founder_of(operator)
    acting = make.person(operator, "technician", name="Ivo Nord")
    actions.take_role(
        operator, User.objects.get(roles__kind="manager", roles__operator=operator, name="Mirte Valk"), "manager",
        deed=make.deed(founder),
    )  # fmt: skip
    actions.give_role(operator, acting, "manager", until=operator.end_of(date(2026, 6, 30)), deed=make.deed(founder))
    own = Client()
    own.force_login(acting)

    page = text(own.post(path("take_role", operator, founder, Role.objects.get(user=founder))))

    assert "This is the last manager." in page
    assert Role.objects.get(user=founder).until is None


def test_an_invitation_is_sent_again_only_to_who_has_no_password(
    client: Client, operator: Operator, staff: dict[str, User], mailoutbox: Any
) -> None:
    new = actions.invite(operator, "ole@example.org", "Ole Birk", ["guide"], deed=make.deed(make.founder_of(operator)))

    client.post(path("send_invitation", operator, new))

    assert [mail.to for mail in mailoutbox] == [["ole@example.org"]]
    assert client.post(path("send_invitation", operator, staff["guide"])).status_code == 404


def test_a_name_that_looks_like_a_tag_is_shown_as_text(client: Client, operator: Operator) -> None:
    odd = make.person(operator, "guide", name="<b>Ole</b>")

    for page in (path("people", operator), path("person", operator, odd), path("give_role", operator, odd)):
        assert "<b>Ole" not in client.get(page).content.decode()
