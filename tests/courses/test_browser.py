"""The set-up on a phone and on a desk: it needs no script, fits the window and can be read out."""

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page

from accounts.models import User
from courses.models import Component, Course, Place, Version
from tests import make
from tests.axe import violations
from tests.conftest import PHONE
from tests.courses import build

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def people(transactional_db: None) -> dict[str, User]:
    return make.staff(make.operator())


@pytest.fixture
def course(people: dict[str, User]) -> Course:
    operator = people["engineer"].roles.get().operator
    course = make.course(operator, law_place="US-FL")
    build.complete_line(course, make.line(course), people)
    return course


def log_in(context: BrowserContext, person: User, course: Course) -> Page:
    page = context.new_page()
    page.goto(f"/account/login/?next=/course/{course.pk}/set-up/")
    page.locator("[name=login]").fill(person.email)
    page.locator("[name=password]").fill(make.WORD)
    page.locator("main button[type=submit]").click()
    page.wait_for_url(lambda url: "login" not in url)
    return page


def pages(course: Course) -> list[str]:
    line, cable = Place.objects.lines().get(course=course), Component.objects.get(tag="CB-01")
    up = f"/course/{course.pk}/set-up/"
    at = f"{up}place/{line.pk}/"
    return [
        up, f"{up}lines/", at, f"{at}edit/", f"{at}checklist/", f"{at}checklist/edit/", f"{at}checklist/add/",
        f"{at}limits/", f"{at}limits/MC-04@cable/", f"{up}components/", f"{up}component/{cable.pk}/",
        f"{up}component/{cable.pk}/data/", f"{up}racks/", f"{up}coverage/", f"{up}criteria/", f"{up}criteria/edit/",
        f"{up}calendar/", f"{up}calendar/edit/", f"{up}proposals/",
    ]  # fmt: skip


@pytest.mark.parametrize("window", ["phone", pytest.param("desk", marks=pytest.mark.slow)])
def test_every_page_fits_the_window_and_can_be_read_out(
    course: Course, people: dict[str, User], request: pytest.FixtureRequest, window: str
) -> None:
    page = log_in(request.getfixturevalue(window), people["engineer"], course)
    wrong = []

    for address in pages(course):
        page.goto(address)
        if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
            wrong.append(f"{address} is wider than the window")
        for found in violations(page):
            wrong.append(f"{address}: {found['id']} at {found['nodes'][0]['target']}")

    assert wrong == []


def test_two_people_change_the_data_of_a_line_without_any_script(
    course: Course, people: dict[str, User], open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    line = Place.objects.lines().get(course=course)
    engineer = log_in(open_window({**PHONE, "java_script_enabled": False}), people["engineer"], course)
    engineer.goto(f"/course/{course.pk}/set-up/place/{line.pk}/edit/")
    engineer.get_by_label("Heaviest rider").fill("125")
    engineer.get_by_label("Where this comes from").fill("Letter, page 2")
    engineer.get_by_role("button", name="Look at what changes").click()
    change = engineer.get_by_role("row", name="Heaviest rider").inner_text().split()
    assert [word for word in change if word in {"120", "125"}] == ["120", "125"]
    engineer.get_by_role("button", name="Propose it").click()
    assert engineer.get_by_text("Version 2 is proposed and waits for somebody else.").is_visible()

    manager = log_in(open_window({**PHONE, "java_script_enabled": False}), people["manager"], course)
    manager.goto(f"/course/{course.pk}/set-up/proposals/")
    manager.get_by_role("link", name="Data of Line 1 Heron").click()
    manager.get_by_label("Your password").fill(make.WORD)
    manager.get_by_role("button", name="Confirm").click()
    assert manager.get_by_text("Data of Line 1 Heron is confirmed.").is_visible()

    version = Version.objects.get(subject=f"line:{line.pk}", number=2)
    assert (version.content["mass_max_kg"], version.confirmed_by) == ("125", people["manager"])
