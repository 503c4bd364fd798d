"""The way of a kept form in a real browser, script and all."""

from typing import Any

import pytest
from django.urls import reverse

from accounts.models import User
from tests import make
from tests.axe import violations


@pytest.mark.django_db(transaction=True)
def test_a_manager_whose_log_in_ran_out_sends_the_invitation_all_the_same(phone: Any, mailoutbox: Any) -> None:
    operator = make.operator()
    manager = make.person(operator, "manager")
    page = phone.new_page()

    def log_in() -> None:
        page.get_by_label("Email").fill(manager.email)
        page.get_by_label("Password").fill(make.WORD)
        page.get_by_role("button", name="Log in").click()

    page.goto(reverse("accounts:invite", args=[operator.pk]))
    log_in()
    page.get_by_label("Name").fill("Ole Birk")
    page.get_by_label("E-mail address").fill("ole@example.org")
    page.get_by_text("Technician:").click()
    page.get_by_label("Your password").fill(make.WORD)
    assert violations(page) == []
    phone.clear_cookies(name="sessionid")
    page.get_by_role("button", name="Invite").click()
    page.get_by_text("Nothing is lost").wait_for()
    log_in()

    page.get_by_text("This was not saved yet").wait_for()
    assert page.get_by_label("Name").input_value() == "Ole Birk"
    assert page.get_by_label("E-mail address").input_value() == "ole@example.org"
    assert page.get_by_role("checkbox", checked=True).count() == 1
    assert page.get_by_label("Your password").input_value() == ""
    page.get_by_label("Your password").fill(make.WORD)
    page.get_by_role("button", name="Invite").click()

    page.get_by_text("The invitation was sent to ole@example.org.").wait_for()
    assert User.objects.get(email="ole@example.org").roles.get().kind == "technician"
    assert violations(page) == []
