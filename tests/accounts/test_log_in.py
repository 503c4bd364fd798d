"""How one comes in: by invitation, with an address in any case, and not by guessing."""

import re
from typing import Any

import pytest
from django.contrib.auth import get_user
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from accounts.models import Operator, User
from tests import make


def log_in(client: Client, email: str, password: str = make.WORD, **headers: str) -> Any:
    return client.post(reverse("account_login"), {"login": email, "password": password}, headers=headers)


def is_in(client: Client) -> bool:
    return get_user(client).is_authenticated


@pytest.mark.parametrize("typed", ["mirte@example.org", "MIRTE@Example.ORG", "Mirte@example.org"])
def test_an_address_is_taken_in_any_case(db: None, typed: str) -> None:
    make.account(email="Mirte@Example.org")
    client = Client()

    response = log_in(client, typed)

    assert (response.status_code, response["Location"]) == (302, "/")
    assert is_in(client)


def test_an_address_is_given_once_in_any_case(db: None) -> None:
    make.account(email="mirte@example.org")

    with transaction.atomic(), pytest.raises(IntegrityError):
        User.objects.create(email="MIRTE@example.org", name="Other")


def test_a_closed_account_does_not_come_in(db: None) -> None:
    make.account(email="left@example.org", is_active=False)
    client = Client()

    response = log_in(client, "left@example.org")

    assert response["Location"] == reverse("account_inactive")
    assert not is_in(client)


def test_five_wrong_passwords_close_the_door_for_that_address_alone(db: None, clock: Any) -> None:
    make.account(email="mirte@example.org")
    make.account(email="tarik@example.org")
    for _ in range(5):
        assert "not correct" in log_in(Client(), "mirte@example.org", "wrong").content.decode()

    blocked, other = Client(), Client()
    page = log_in(blocked, "MIRTE@example.org").content.decode()
    log_in(other, "tarik@example.org")

    assert "Too many failed login attempts" in page
    assert not is_in(blocked)
    assert is_in(other)
    clock.shift(301)
    log_in(blocked, "mirte@example.org")
    assert is_in(blocked)


def test_a_forged_sender_does_not_get_around_the_limit(db: None, clock: Any) -> None:
    make.account(email="mirte@example.org")
    for number in range(10):
        log_in(Client(), f"guess{number}@example.org", "wrong", **{"x-forwarded-for": f"203.0.113.{number}"})

    client = Client()
    page = log_in(client, "mirte@example.org", **{"x-forwarded-for": "203.0.113.77"}).content.decode()

    assert "Too many failed login attempts" in page
    assert not is_in(client)


def test_the_support_pages_have_no_door_of_their_own(db: None) -> None:
    response = Client().post("/support/login/", {"username": "root@example.org", "password": "guess"})

    assert response["Location"].startswith(reverse("account_login"))


# --- from the invitation to the first log-in


@pytest.fixture
def manager(operator: Operator, staff: dict[str, User]) -> Client:
    client = Client()
    client.force_login(staff["manager"])
    return client


def invite(client: Client, operator: Operator, **fields: Any) -> Any:
    data = {"name": "Ole Birk", "email": "ole@example.org", "roles": ["guide"], "password": make.WORD, **fields}
    return client.post(reverse("accounts:invite", args=[operator.pk]), data)


def test_an_invitation_leads_to_a_password_and_in(manager: Client, operator: Operator, mailoutbox: Any) -> None:
    invite(manager, operator)
    [mail] = mailoutbox
    assert mail.to == ["ole@example.org"]
    assert mail.subject == "Your account at Kestrel Hollow"
    assert "The link works once, and for 3 days." in mail.body
    [link] = re.findall(r"http://testserver(/account/\S+)", mail.body)

    invited = Client()
    form = invited.get(link, follow=True)
    path = form.redirect_chain[-1][0]
    done = invited.post(path, {"password1": "seven dry alders", "password2": "seven dry alders"}, follow=True)

    assert done.status_code == 200
    log_in(invited, "ole@example.org", "seven dry alders")
    assert is_in(invited)
    again = Client().get(link, follow=True)
    assert "password1" not in again.content.decode()


def test_somebody_with_a_password_is_only_told(manager: Client, operator: Operator, mailoutbox: Any) -> None:
    make.account("Runa Holt", email="runa@example.org")

    invite(manager, operator, email="runa@example.org")

    [mail] = mailoutbox
    assert mail.subject == "You were added at Kestrel Hollow"
    assert "/password/reset/" not in mail.body


def test_a_forgotten_password_before_the_first_is_the_invitation_again(
    manager: Client, operator: Operator, mailoutbox: Any
) -> None:
    invite(manager, operator)

    Client().post(reverse("account_reset_password"), {"email": "OLE@example.org"})

    assert [mail.subject for mail in mailoutbox] == ["Your account at Kestrel Hollow"] * 2


def test_a_mail_that_does_not_go_out_is_said_and_the_invitation_stands(
    manager: Client, operator: Operator, settings: Any
) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 9  # nothing listens on the discard port

    response = invite(manager, operator)

    page = manager.get(response["Location"]).content.decode()
    assert "The mail could not be sent. Try again from this page." in page
    assert User.objects.get(email="ole@example.org").roles.get().kind == "guide"
