"""Versions in force, read from the database once per process.

What is in force was confirmed and is never written again, so what was read stays true; which version is in force is
asked anew each time. Nobody may change a content that came from here; ``tests/inspections/test_kept.py`` looks for it.
"""

from __future__ import annotations

from collections.abc import Collection
from uuid import UUID

from courses.models import Version

MOST = 10_000
_known: dict[UUID, Version] = {}


def versions(pks: Collection[UUID]) -> list[Version]:
    """Return the versions of these ids, in one query for those not read yet. Give only ids of versions in force."""
    missing = [pk for pk in pks if pk not in _known]
    fresh = Version.objects.in_bulk(missing) if missing else {}
    found = [fresh[pk] if pk in fresh else _known[pk] for pk in pks]
    if len(_known) + len(fresh) > MOST:
        _known.clear()
    _known.update(fresh)
    return found


def forget() -> None:
    """Forget everything that was read."""
    _known.clear()


def known() -> list[Version]:
    """Return what was read so far."""
    return list(_known.values())
