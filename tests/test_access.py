"""Every address × everybody who may come by: one table, and an address that is missing from it fails.

How rows are written stands in ``tests/access/table.py``; each app has its file beside it. Source of what each role may
do: ``accounts.policy.RIGHTS_OF``, itself checked cell by cell in ``tests/accounts/test_policy.py``.
"""

import re
from collections.abc import Iterator
from datetime import datetime
from types import SimpleNamespace
from typing import Any

import pytest
import time_machine
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from accounts.models import User
from ledger.models import Entry
from tests import make
from tests.access import accounts, courses, inspections, reports
from tests.access.table import PUBLIC, ROLES, VISITORS, Row

APPS = (accounts, courses, inspections, reports)
ROWS: list[Row] = [row for app in APPS for row in app.ROWS]

# Pages of the log-in library: what they answer to somebody not logged in, and to somebody who is.
LOG_IN = {
    "account_login": (200, 302),
    "account_logout": (302, 200),
    "account_inactive": (200, 200),
    "account_signup": (200, 302),
    "account_reauthenticate": (302, 200),
    "account_email": (302, 404),
    "account_email_verification_sent": (200, 200),
    "account_change_password": (302, 200),
    "account_set_password": (302, 302),
    "account_reset_password": (200, 200),
    "account_reset_password_done": (200, 200),
    "account_reset_password_from_key": (200, 200),
    "account_reset_password_from_key_done": (200, 200),
    "account_confirm_login_code": (302, 302),
    "account_confirm_email": (200, 200),
}
ARGUMENTS = {
    "account_reset_password_from_key": {"uidb36": "0", "key": "made-up"},
    "account_confirm_email": {"key": "made-up"},
}


def patterns(
    resolver: URLResolver | None = None, space: str = ""
) -> Iterator[tuple[str, URLPattern]]:  # fmt: skip
    for pattern in (resolver or get_resolver()).url_patterns:
        if isinstance(pattern, URLResolver):
            yield from patterns(pattern, space + (f"{pattern.namespace}:" if pattern.namespace else ""))
        else:
            yield space + (pattern.name or f"(unnamed {pattern.pattern})"), pattern


OURS = {name for name, _ in patterns() if not name.startswith("admin:") and name not in LOG_IN}


@pytest.fixture(scope="module")
def built(django_db_setup: None, django_db_blocker: Any, morning: datetime) -> Iterator[SimpleNamespace]:
    """The world of all rows, built once in a transaction around the tests' own, with the clock at `morning`."""
    with django_db_blocker.unblock(), time_machine.travel(morning, tick=False), transaction.atomic():
        world = SimpleNamespace(at=morning)
        world.operator = make.operator()
        world.course = make.course(world.operator)
        world.line = make.line(world.course)
        for role, person in make.staff(world.operator).items():
            setattr(world, role, person)
        world.stranger = make.person(make.operator("Far Away"), "manager", name="Sten Fern")
        for app in APPS:
            if hasattr(app, "build"):
                app.build(world)
        yield world
        transaction.set_rollback(True)


@pytest.fixture
def w(built: SimpleNamespace, db: None) -> SimpleNamespace:
    return built


def as_visitor(w: SimpleNamespace, visitor: str) -> Client:
    client = Client()
    if visitor != "anonymous":
        client.force_login(getattr(w, visitor))
    return client


def address(w: SimpleNamespace, row: Row) -> str:
    given = row.kwargs(w) if row.kwargs else {}
    wanted = set()
    for possibility in get_resolver_of(row.name).getlist(row.name.rpartition(":")[2]):
        wanted |= {name for _, names in possibility[0] for name in names}
    for name in ("operator", "course"):
        if name in wanted and name not in given:
            given[name] = getattr(w, name).pk
    return reverse(row.name, kwargs=given)


def get_resolver_of(name: str) -> Any:
    """Return the table of addresses of the namespace a name is in."""
    resolver = get_resolver()
    for space in name.split(":")[:-1]:
        resolver = resolver.namespace_dict[space][1]
    return resolver.reverse_dict


def send(client: Client, w: SimpleNamespace, row: Row) -> Any:
    headers = {"accept": "application/json"} if row.json else {"accept": "text/html"}
    query = row.query(w) if row.query else None
    if row.post is None:
        return client.get(address(w, row), query, headers=headers)
    sent = {"content_type": "application/json"} if row.as_json else {}
    return client.post(address(w, row), row.post(w), headers=headers, query_params=query, **sent)


WRITES = re.compile(r'^(INSERT INTO|UPDATE|DELETE FROM) "?(?!django_session|lineworthy_cache)', re.IGNORECASE)


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_each_visitor_is_answered_as_the_table_says(w: SimpleNamespace, row: Row) -> None:
    wrong = []
    for visitor, expected in row.expected().items():
        with transaction.atomic():
            client = as_visitor(w, visitor)
            entries = Entry.objects.count()
            with CaptureQueriesContext(
                connection,
            ) as queries:
                response = send(client, w, row)
            if response.status_code != expected:
                wrong.append(f"{visitor}: {response.status_code} instead of {expected}")
            if expected == 302 and (visitor == "anonymous") != response.get("Location", "").startswith(
                "/account/login/"
            ):
                wrong.append(f"{visitor}: sent to {response.get('Location')}")
            if response.status_code >= 400 and Entry.objects.count() != entries:
                wrong.append(f"{visitor}: refused, and yet it stands in the history")
            if row.post is None:
                wrong += [f"{visitor}: a GET wrote {q['sql'][:80]}" for q in queries if WRITES.match(q["sql"])]
            if response.status_code == 200 and visitor != "anonymous" and "text/html" in response["Content-Type"]:
                wrong += [f"{visitor}: {sentence}" for sentence in unmarked_forms(response.content.decode())]
            transaction.set_rollback(True)
    assert wrong == []


def unmarked_forms(html: str) -> list[str]:
    """Return what is missing in forms that post: without it a log-in that runs out would lose what was typed."""
    found = []
    for form in re.findall(r"<form\b[^>]*method=\"post\"[^>]*>.*?</form>", html, re.DOTALL | re.IGNORECASE):
        found += [f"a form without {name}" for name in ("csrfmiddlewaretoken", "_who") if f'name="{name}"' not in form]
    return found


def test_every_address_is_in_the_table() -> None:
    assert sorted(OURS - {row.name for row in ROWS}) == []
    assert sorted({row.name for row in ROWS} - OURS) == [], "rows of addresses that do not exist"


@pytest.mark.parametrize("name", sorted({row.name for row in ROWS}))
def test_a_method_that_is_not_in_the_table_is_not_allowed(w: SimpleNamespace, name: str) -> None:
    rows = [row for row in ROWS if row.name == name]
    methods = {row.method for row in rows}
    allowed = next(visitor for visitor in reversed(VISITORS) if rows[0].expected()[visitor] < 400)
    client = as_visitor(w, allowed)
    path = address(w, rows[0])
    if "POST" not in methods:
        assert client.post(path).status_code == 405
    if "GET" not in methods:
        assert client.get(path).status_code == 405
    for other in ("put", "patch", "delete"):
        assert getattr(client, other)(path).status_code == 405


# --- the log-in library and the support pages


@pytest.mark.parametrize("name", sorted(LOG_IN))
def test_pages_of_the_log_in(w: SimpleNamespace, name: str) -> None:
    path = reverse(name, kwargs=ARGUMENTS.get(name))

    answers = tuple(as_visitor(w, visitor).get(path).status_code for visitor in ("anonymous", "guide"))

    assert answers == LOG_IN[name]


def test_sign_up_answers_that_it_is_closed(w: SimpleNamespace) -> None:
    client = Client()

    page = client.get(reverse("account_signup"))
    sent = client.post(
        reverse("account_signup"), {"email": "new@example.org", "password1": make.WORD, "password2": make.WORD}
    )

    assert page.status_code == sent.status_code == 200
    assert "Accounts are made by your manager." in page.content.decode()
    assert not User.objects.filter(email="new@example.org").exists()


def support_paths() -> list[str]:
    found = []
    for name, pattern in patterns():
        if name.startswith("admin:") and not pattern.pattern.converters and not pattern.pattern.regex.groups:
            found.append(reverse(name))
    return found


def test_support_is_for_staff_alone(w: SimpleNamespace) -> None:
    helper = make.account("Support Person", is_staff=True, is_superuser=True)
    paths = support_paths()
    assert reverse("admin:accounts_user_changelist") in paths

    wrong = []
    for visitor in ("anonymous", "stranger", *ROLES):
        client = as_visitor(w, visitor)
        wrong += [f"{visitor} was shown {path}" for path in paths if client.get(path).status_code == 200]
    client = Client()
    client.force_login(helper)
    index = client.get(reverse("admin:index"))

    assert wrong == []
    assert index.status_code == 200


def test_the_table_expands_a_right_to_every_visitor() -> None:
    row = Row("accounts:people", "people")

    # Worked out by hand from the table of roles: only the manager looks after people.
    assert row.expected() == {
        "anonymous": 302, "stranger": 404, "guide": 403, "technician": 403, "manager": 200, "engineer": 403,
        "auditor": 403,
    }  # fmt: skip
    assert set(Row("x", PUBLIC).expected().values()) == {200}
