"""``found_operator``: how an installation gets its first operator."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from accounts.models import Operator, Role, User
from ledger.models import Entry
from tests import make


def found(**more: object) -> str:
    out = StringIO()
    options = {"email": "Mirte@example.org", "name": "Mirte Valk", "tz": "Europe/Vienna", **more}
    call_command("found_operator", "Kestrel Hollow", stdout=out, **options)
    return out.getvalue()


def test_it_founds_an_operator_and_says_what_comes_next(db: None) -> None:
    told = found(also=["technician"])

    operator = Operator.objects.get()
    assert (operator.name, operator.tz) == ("Kestrel Hollow", "Europe/Vienna")
    assert sorted(Role.objects.values_list("kind", "user__email")) == [
        ("manager", "mirte@example.org"), ("technician", "mirte@example.org"),
    ]  # fmt: skip
    assert Entry.objects.get(log=operator.log).record["auth"]["how"] == "command"
    assert told.splitlines() == [
        "Kestrel Hollow was founded; mirte@example.org is its manager.",
        "Now set a password: manage.py changepassword mirte@example.org",
    ]


def test_run_twice_it_founds_once(db: None) -> None:
    found()

    with pytest.raises(CommandError, match="already"):
        found()

    assert Operator.objects.count() == User.objects.count() == Entry.objects.count() == 1


def test_an_account_that_exists_is_taken(db: None) -> None:
    known = make.account("Runa Holt", email="mirte@example.org")

    told = found()

    assert Role.objects.get().user == known
    assert User.objects.get().name == "Runa Holt"
    assert "password" not in told


@pytest.mark.parametrize("wrong", [{"tz": "Europe/Atlantis"}, {"email": "mirte"}])
def test_what_cannot_be_understood_changes_nothing(db: None, wrong: dict[str, str]) -> None:
    with pytest.raises(CommandError):
        found(**wrong)

    assert Operator.objects.count() == User.objects.count() == Entry.objects.count() == 0
