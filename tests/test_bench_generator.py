"""The benchmark's history is one that the actions could have written, and the verifier says so."""

from collections import Counter
from datetime import date, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from inspections import actions, models
from inspections.projection import day_id
from inspections.rebuild import chain_faults, projection_faults
from ledger.models import Entry
from tests import make
from tests.bench.generator import Pattern, Writer, write


def play(w: SimpleNamespace, at: datetime) -> None:
    """One whole day by the actions."""
    w.at = at
    make.inspect(w, at=at)
    make.open_lines(w, at=at + timedelta(minutes=10))
    now = make.picture(w, at + timedelta(hours=9))
    actions.close_day(now, riders={str(w.line.pk): 40}, deed=make.deed(w.technician, at=now.at))


def shape(value: Any) -> Any:
    """The keys of a record without its figures."""
    if isinstance(value, dict):
        return {key: shape(item) for key, item in sorted(value.items())}
    return Counter(str(shape(item)) for item in value) if isinstance(value, list) else type(value).__name__


def records(w: SimpleNamespace, on: date) -> list[dict[str, Any]]:
    return Pattern.of(w.course, on).records


@pytest.fixture
def w(db: None, morning: datetime) -> SimpleNamespace:
    w = make.ready(lines=1, on=morning)
    play(w, morning)
    return w


def test_a_copied_day_is_a_day_that_the_actions_could_have_written(w: SimpleNamespace, morning: datetime) -> None:
    first = morning.date()
    copies = [first + timedelta(days=n) for n in (1, 2, 3)]
    pattern = Pattern.of(w.course, first)
    made = write(w.course, pattern, copies)
    assert made == 3 * len(pattern.records)
    assert list(chain_faults(w.operator)) == []
    assert list(projection_faults(w.operator)) == []

    play(w, morning + timedelta(days=4))  # the history goes on by the actions
    assert list(chain_faults(w.operator)) == []
    assert list(projection_faults(w.operator)) == []
    copied, played = records(w, copies[-1]), records(w, first + timedelta(days=4))
    kinds = [record["kind"] for record in copied]
    assert Counter(kinds) == Counter(
        ["day-opened", *["sheet"] * kinds.count("sheet"), "ride", "ride", "sign-off", "closing"]
    )
    assert set(kinds) == {record["kind"] for record in played}
    by_kind = {record["kind"]: record for record in played if record["kind"] != "sheet"}
    for record in copied:
        if record["kind"] in {"day-opened", "closing"}:
            assert shape(record) == shape(by_kind[record["kind"]])
    day = day_id(str(w.course.pk), copies[-1].isoformat())
    assert models.Reading.objects.filter(day=day).count() == models.Reading.objects.filter(day__date=first).count() > 60
    assert Entry.objects.filter(log=w.operator.log_id).values("act_id").distinct().count() == Entry.objects.count()


def test_a_changed_byte_in_a_copied_day_is_seen(w: SimpleNamespace, morning: datetime) -> None:
    write(w.course, Pattern.of(w.course, morning.date()), [morning.date() + timedelta(days=1)])
    row = models.Reading.objects.filter(day__date=morning.date() + timedelta(days=1)).exclude(text="").first()
    assert row is not None
    models.Reading.objects.filter(pk=row.pk).update(text="999")
    assert any(row.pk in sentence or "Reading" in sentence for sentence in projection_faults(w.operator))


def test_history_does_not_run_backwards(w: SimpleNamespace, morning: datetime) -> None:
    pattern = Pattern.of(w.course, morning.date())
    with pytest.raises(ValueError, match="before the last entry"):
        write(w.course, pattern, [morning.date() - timedelta(days=3)])
    assert Writer.after(w.operator.log).seq == Entry.objects.filter(log=w.operator.log_id).count()
