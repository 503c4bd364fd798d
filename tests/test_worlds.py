"""A world laid back row by row is the world that was built. No outside source: the rows themselves are compared."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction

from accounts.models import Operator
from inspections.rebuild import chain_faults, projection_faults
from ledger.models import Entry
from tests import make, worlds

AT = timedelta(minutes=30)


def stored() -> dict[str, list[Any]]:
    """All rows of all tables."""
    found = {}
    with connection.cursor() as cursor:
        for model in worlds._models():
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(model._meta.db_table)}")
            rows = [
                tuple(bytes(value) if isinstance(value, memoryview) else value for value in row)
                for row in cursor.fetchall()
            ]
            found[model._meta.db_table] = sorted(rows, key=repr)
    return found


def build_and_empty(on: datetime) -> dict[str, list[Any]]:
    """Build a world that no other test asks for, and leave nothing of it but what is kept."""
    with transaction.atomic():
        make.inspected(lines=1, on=on)
        rows = stored()
        transaction.set_rollback(True)
    assert not Operator.objects.exists()
    return rows


@pytest.mark.django_db
def test_what_is_laid_back_is_what_was_built(morning: datetime) -> None:
    on = morning + timedelta(days=1)
    built = build_and_empty(on)
    assert len([rows for rows in built.values() if rows]) > 12  # people, places, parts, versions, sheets, rides …

    w = make.inspected(lines=1, on=on)

    assert stored() == built
    assert list(chain_faults(w.operator)) == []
    assert list(projection_faults(w.operator)) == []


@pytest.mark.django_db
def test_one_goes_on_from_there(morning: datetime) -> None:
    on = morning + timedelta(days=2)
    build_and_empty(on)
    w = make.inspected(lines=1, on=on)
    before = Entry.objects.filter(log=w.operator.log_id).count()

    make.person(w.operator, "guide", name="Nora Kamp")
    make.open_lines(w, at=on + AT)

    assert Entry.objects.filter(log=w.operator.log_id).count() > before
    assert list(chain_faults(w.operator)) == []
    with pytest.raises(DatabaseError), transaction.atomic():
        Entry.objects.filter(log=w.operator.log_id).update(kind="other")


@pytest.mark.django_db
def test_beside_people_a_world_is_built_anew(morning: datetime) -> None:
    on = morning + timedelta(days=1)
    first, second = make.ready(lines=1, on=on), make.ready(lines=1, on=on)
    assert first.operator.pk != second.operator.pk
    assert first.course.pk != second.course.pk


@pytest.mark.django_db
def test_nobody_gets_the_objects_of_another(morning: datetime) -> None:
    found = []
    for _ in range(2):
        with transaction.atomic():
            found.append(make.ready(lines=1, on=morning + timedelta(days=1)))
            transaction.set_rollback(True)

    assert found[0].line == found[1].line
    assert found[0].line is not found[1].line
    assert found[0].people["technician"] is found[0].technician
