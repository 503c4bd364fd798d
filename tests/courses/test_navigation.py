"""What stands around every page of a course, by rights. The order of the pages is the project's own decision."""

from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth.models import AnonymousUser
from django.db import connection
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext
from django.urls import resolve, reverse

from accounts import policy
from accounts.models import Operator, User
from courses import actions
from courses.context import navigation
from courses.models import Course, Place
from tests import make
from tests.courses import build


def around(user: Any, address: str) -> dict[str, Any]:
    request: Any = RequestFactory().get(address)
    request.user, request.resolver_match = user, resolve(address)
    return navigation(request)


@pytest.fixture
def address(course: Course, clock: Any) -> str:
    return reverse("courses:lines", args=[course.pk])


def test_a_manager_has_the_set_up_and_the_people(staff: dict[str, User], address: str) -> None:
    found = around(staff["manager"], address)

    labels = [item["label"] for item in found["nav"]]
    assert labels[-2:] == ["Set-up", "People"]
    assert [item["label"] for item in found["nav"] if item["active"]] == ["Set-up"]


@pytest.mark.parametrize(
    ("role", "never"),
    [
        ("auditor", {"Today", "Walk", "Findings"}),
        ("guide", {"Walk", "History", "People"}),
        ("technician", {"People"}),
        ("manager", {"Walk"}),
    ],
)
def test_pages_without_the_right_are_not_offered(
    staff: dict[str, User], address: str, role: str, never: set[str]
) -> None:
    assert not never & {item["label"] for item in around(staff[role], address)["nav"]}


def test_strangers_and_pages_without_a_course_have_nothing_around_them(
    operator: Operator, course: Course, address: str
) -> None:
    stranger = make.person(make.operator("Far Away"), "manager", name="Sten Fern")

    assert around(stranger, address) == {}
    assert around(AnonymousUser(), address) == {}
    assert around(stranger, reverse("courses:home")) == {}


def test_the_pages_of_an_operator_keep_the_course_around_them(
    operator: Operator, course: Course, staff: dict[str, User], address: str
) -> None:
    found = around(staff["manager"], reverse("accounts:people", args=[operator.pk]))

    assert found["course"] == course
    assert [item["label"] for item in found["nav"] if item["active"]] == ["People"]


def test_what_waits_is_counted_for_those_who_may_confirm(
    course: Course, line: Place, staff: dict[str, User], address: str
) -> None:
    actions.propose(course, "line", build.LINE, source="Folder", place=line, deed=make.deed(staff["engineer"]))

    assert around(staff["manager"], address)["pending_count"] == 1
    assert around(staff["technician"], address)["pending_count"] == 0


def test_it_takes_two_queries_once(operator: Operator, staff: dict[str, User], address: str, morning: Any) -> None:
    request: Any = RequestFactory().get(address)
    request.user, request.resolver_match = staff["manager"], resolve(address)
    policy.roles_of(request.user, operator.pk, at=morning)  # every view has asked for the roles

    with CaptureQueriesContext(connection) as queries:
        first, second = navigation(request), navigation(request)

    assert len(queries) == 2
    assert first is second


def test_one_course_only_leads_on_from_the_first_page(course: Course, as_: Callable[[str], Client]) -> None:
    answer = as_("manager").get("/")

    assert answer.status_code == 302
    assert str(course.pk) in answer["Location"]


def test_several_courses_are_listed_and_none_says_so(
    operator: Operator, course: Course, as_: Callable[[str], Client], staff: dict[str, User]
) -> None:
    make.course(operator, "Ridge")
    actions.found_course(make.operator("Far Away"), name="Elsewhere", tz="UTC", deed=_founder("Far Away"))

    page = as_("manager").get("/").content.decode()

    assert ("Kestrel Hollow Lines" in page, "Ridge" in page, "Elsewhere" in page) == (True, True, False)
    nobody = Client()
    nobody.force_login(make.account())
    assert "You belong to no course at present." in nobody.get("/").content.decode()


def _founder(name: str) -> Any:
    return make.deed(make.founder_of(Operator.objects.get(name=name)))
