"""The support pages look, and change one thing: whether an account is open."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Operator, Role, User
from tests import make


@pytest.fixture
def support(db: None) -> Client:
    client = Client()
    client.force_login(User.objects.create_superuser("help@example.org", make.WORD, name="Help"))
    return client


@pytest.mark.parametrize("model", ["user", "operator", "role", "authorisation"])
def test_nothing_is_added_or_deleted(support: Client, staff: dict[str, User], operator: Operator, model: str) -> None:
    row: Any = {
        "user": staff["guide"], "operator": operator, "role": Role.objects.first(),
        "authorisation": staff["technician"].authorisations.get(),
    }[model]  # fmt: skip

    assert support.get(reverse(f"admin:accounts_{model}_changelist")).status_code == 200
    assert support.get(reverse(f"admin:accounts_{model}_change", args=[row.pk])).status_code == 200
    assert support.post(reverse(f"admin:accounts_{model}_add"), {}).status_code == 403
    assert support.post(reverse(f"admin:accounts_{model}_delete", args=[row.pk]), {"post": "yes"}).status_code == 403
    assert type(row).objects.filter(pk=row.pk).exists()


def test_a_role_is_not_changed_there(support: Client, staff: dict[str, User]) -> None:
    role = Role.objects.get(user=staff["guide"])

    response = support.post(reverse("admin:accounts_role_change", args=[role.pk]), {"kind": "manager"})

    assert response.status_code == 403
    role.refresh_from_db()
    assert role.kind == "guide"


def test_an_account_is_closed_and_nothing_else_of_it_changes(support: Client, staff: dict[str, User]) -> None:
    guide = staff["guide"]
    inside = Client()
    inside.force_login(guide)

    support.post(
        reverse("admin:accounts_user_change", args=[guide.pk]),
        {"name": "Other", "email": "o@example.org", "is_staff": "on"},
    )

    changed = User.objects.get(pk=guide.pk)
    assert (changed.is_active, changed.is_staff) == (False, False)
    assert (changed.name, changed.email, changed.password) == (guide.name, guide.email, guide.password)
    assert inside.get("/account/password/change/").status_code == 302
