"""The page and the command by which a record is taken away, and what they do where not all is as it should be."""

from __future__ import annotations

import io
import json
import re
import stat
import tracemalloc
import uuid
import zipfile
from base64 import b64encode
from collections.abc import Iterator
from datetime import timedelta
from hashlib import sha256
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.urls import reverse

from accounts.deeds import COMMAND, Deed
from accounts.log_keys import PLANNED, STOLEN, rotate_log_key
from courses.actions import places
from courses.actions.files import path_of, store_bytes
from inspections import actions
from inspections.models import Hold
from inspections.picture import picture_of
from ledger import notes, sealing, triggers
from ledger.models import Checkpoint, Countersignature, Entry
from reports.bundle import begin_bundle, program
from reports.bundle_zip import PIECE, Member, streamed
from reports.verifier import verify as v
from tests import make
from tests.inspections.test_photos import jpeg
from tests.verifier.record import WITNESS, WITNESS_KEY, WITNESS_NAME, Bundle, check, told

SEEDS = [bytes([n]) * 32 for n in (1, 2)]
FIRST, SECOND = (Ed25519PrivateKey.from_private_bytes(one) for one in SEEDS)
AT = make.FOUNDED + timedelta(hours=1)


@pytest.fixture
def w(db: None, settings: Any, tmp_path: Path, clock: Any) -> SimpleNamespace:
    """An operator whose history was founded with a key, a course, its people, and a finding with a photo."""
    settings.LOG_KEY, settings.MEDIA_ROOT = b64encode(SEEDS[0]).decode(), tmp_path / "files"
    w = SimpleNamespace(operator=make.operator())
    w.course = make.course(w.operator)
    w.line = make.line(w.course)
    w.people = make.staff(w.operator)
    clock.move_to(AT)
    deed = make.deed(w.people["technician"], at=AT)
    w.photo = store_bytes(w.operator, jpeg(), kind="photo", media_type="image/jpeg", deed=deed).sha256
    actions.open_finding(
        picture_of(w.course, at=AT), w.line, title="Rust", severity="minor", photos=(w.photo,), deed=deed
    )
    w.key = sealing.keys_of(w.operator.log)[0].key.text
    w.url = reverse("reports:bundle", args=[w.course.pk])
    return w


def made(w: SimpleNamespace, **days: Any) -> Bundle:
    return Bundle.of(b"".join(begin_bundle(w.operator, at=AT, **days).chunks()))


def one_more(w: SimpleNamespace) -> None:
    make.place(w.course, "platform", Entry.objects.count(), "One more")


def as_one(w: SimpleNamespace, role: str = "auditor") -> Client:
    client = Client()
    client.force_login(w.people[role])
    return client


def test_an_auditor_takes_away_the_whole_record_and_its_state_is_signed_before(w: SimpleNamespace) -> None:
    before = Checkpoint.objects.count()

    response = as_one(w).post(w.url, {"what": "all"})
    data = response.getvalue()  # type: ignore[attr-defined]

    size = Entry.objects.filter(log=w.operator.log).count()
    assert response["Content-Disposition"] == f'attachment; filename="record-{size}.zip"'
    assert response["Cache-Control"] == "private, no-store"
    assert Checkpoint.objects.count() == before + 1
    found = check(data, keys=[w.key])
    assert (found.level, found.info["size"], found.checks("FAULT")) == (3, size, [])
    assert "entries stand under a signature" in Bundle.of(data).files[v.README].decode()


def test_the_page_shows_key_state_and_the_check_value_of_the_program(w: SimpleNamespace) -> None:
    client = as_one(w)
    page = client.get(w.url).content.decode()
    program_ = client.get(reverse("reports:verifier", args=[w.course.pk]))

    assert program_.content == Path(v.__file__).read_bytes() == program()
    assert program_["Content-Disposition"] == 'attachment; filename="verify.py"'
    digest = sha256(program_.content).hexdigest()
    assert digest in page.replace(" ", "")
    state = sealing.newest(w.operator.log)
    assert state is not None
    shown = re.findall(r"<textarea[^>]*>([^<]*)</textarea>", page)
    assert [one.replace("&#x27;", "'") for one in shown] == [w.key, state.note]
    assert "the key has to come by another way than the file" in page
    assert "came after it" in page  # what was entered since is told


def test_days_have_to_be_named_and_nothing_is_signed_without(w: SimpleNamespace) -> None:
    before = Checkpoint.objects.count()
    asked: list[dict[str, str]] = [
        {"what": "days"},
        {"what": "days", "first": "2026-06-02", "last": "2026-06-01"},
        {"what": "days", "first": "2026-06-32", "last": "2026-07-01"},
        {},
    ]
    for given in asked:
        assert as_one(w).post(w.url, given).status_code == 400
    assert Checkpoint.objects.count() == before


def test_days_are_those_of_the_operator_s_clock(w: SimpleNamespace) -> None:
    response = as_one(w).post(w.url, {"what": "days", "first": "2026-05-01", "last": "2026-05-01"})

    bundle = Bundle.of(response.getvalue())  # type: ignore[attr-defined]
    span = json.loads(bundle.files[v.RANGE])
    # Vienna keeps summer time then: its day begins two hours before that of UTC.
    assert (span["since"], span["until"]) == ("2026-04-30T22:00:00Z", "2026-05-01T22:00:00Z")
    found = check(bundle, keys=[w.key])
    assert (found.level, found.checks("FAULT")) == (3, [])
    assert len(bundle.lines) == found.info["size"]


def test_a_day_on_which_nothing_was_received_shows_what_proves_that(w: SimpleNamespace) -> None:
    bundle = made(w, first=AT.date() + timedelta(days=30), last=AT.date() + timedelta(days=31))

    found = check(bundle, keys=[w.key])

    assert (found.level, found.checks("FAULT")) == (3, [])
    assert {0, found.info["size"] - 1} <= {one["seq"] for one in bundle.records}
    assert len(bundle.lines) < found.info["size"]


def test_what_is_entered_later_about_a_day_comes_with_the_day(w: SimpleNamespace) -> None:
    later = make.deed(make.founder_of(w.operator), at=AT + timedelta(days=9))
    late = actions.record_paper(w.course, kind="tag", number="7", pdf=b"%PDF-1.7", date="2026-05-01", deed=later)
    one_more(w)

    day = made(w, first=AT.date(), last=AT.date())
    next_day = made(w, first=AT.date() + timedelta(days=1), last=AT.date() + timedelta(days=1))

    assert late.seq in {one["seq"] for one in day.records}
    assert [name for name in day.files if name.startswith("papers/")] != []
    assert check(day, keys=[w.key]).checks("FAULT") == check(next_day, keys=[w.key]).checks("FAULT") == []


def test_one_line_is_taken_away_alone_and_has_to_be_named(w: SimpleNamespace) -> None:
    other = make.line(make.course(make.operator("Elsewhere")), 1, "Not this one")
    before = Checkpoint.objects.count()
    for fields in ({}, {"line": str(other.pk)}, {"line": str(w.line.launch_id)}, {"line": "Heron"}):
        response = as_one(w).post(w.url, {"what": "line", **fields})
        assert response.status_code == 400
    assert Checkpoint.objects.count() == before

    response = as_one(w).post(w.url, {"what": "line", "line": str(w.line.pk)})
    data = response.getvalue()  # type: ignore[attr-defined]

    assert response["Content-Disposition"].endswith('-line-1.zip"')
    found = check(data, keys=[w.key])
    assert (found.level, found.checks("FAULT"), found.info["line"]) == (3, [], "Heron")
    assert found.info["shown"] < found.info["size"]


def test_a_line_and_days_are_not_mixed_up_by_what_else_is_filled_in(w: SimpleNamespace) -> None:
    response = as_one(w).post(w.url, {"what": "all", "line": str(w.line.pk), "first": "2026-06-15"})

    assert v.RANGE not in Bundle.of(response.getvalue()).files  # type: ignore[attr-defined]


@pytest.mark.parametrize("wrong", ["a platform", "another operator's", "with days"])
def test_a_bundle_of_what_is_no_line_of_the_operator_is_not_begun(w: SimpleNamespace, wrong: str) -> None:
    line = {
        "a platform": w.line.launch,
        "another operator's": make.line(make.course(make.operator("Elsewhere")), 1, "Not this one"),
    }.get(wrong, w.line)
    with pytest.raises(ValueError, match="A line is one of the operator, and alone"):
        begin_bundle(w.operator, at=AT, line=line, first=AT.date() if wrong == "with days" else None)


def test_what_is_told_of_a_hold_of_another_line_stays_with_that_line(w: SimpleNamespace) -> None:
    other = make.line(w.course, 2, "Wren")
    for line in (w.line, other):
        picture = picture_of(w.course, at=AT)
        actions.call_hold(picture, line, cause="other", text="Rope", deed=make.deed(w.people["technician"], at=AT))
    for hold in Hold.objects.all():
        actions.tell_hold(
            picture_of(w.course, at=AT),
            hold,
            where="launch",
            text="Told",
            deed=make.deed(w.people["technician"], at=AT),
        )

    records = made(w, line=other).records

    calls = [one["act"]["id"] for one in records if one["kind"] == "hold"]
    assert len(calls) == 1
    assert [one["act"]["hold"] for one in records if one["kind"] == "hold-told"] == calls
    assert check(made(w, line=other), keys=[w.key]).checks("FAULT") == []


def test_a_part_that_was_taken_off_and_fitted_elsewhere_is_followed_up_to_there(w: SimpleNamespace) -> None:
    other = make.line(w.course, 2, "Wren")
    deed = make.deed(make.founder_of(w.operator), at=AT)
    cable = places.add_component(w.course, kind="cable", tag="CB-1", label="12.7 mm", deed=deed)
    places.fit(cable, w.line, "cable", deed=make.deed(deed.by, at=AT))
    places.fit(cable, other, "cable", deed=make.deed(deed.by, at=AT))

    for line in (w.line, other):
        bundle = made(w, line=line)
        assert [one["kind"] for one in bundle.records if one["act"].get("component") == str(cable.pk)] == [
            "component-added", "component-fitted", "component-fitted",
        ]  # fmt: skip
        assert check(bundle, keys=[w.key]).checks("FAULT") == []


def test_nothing_of_another_operator_is_in_it(w: SimpleNamespace) -> None:
    other = make.operator("Far Away")

    bundle = made(w)

    text = b"".join(bundle.files.values()).decode(errors="replace")
    assert str(other.log_id) not in text
    assert "Far Away" not in text
    assert check(bundle, keys=[w.key]).checks("FAULT") == []


# --- keys


def test_after_an_exchange_of_keys_the_old_key_leads_to_the_new(w: SimpleNamespace, settings: Any) -> None:
    deed = Deed(by=make.founder_of(w.operator), at=AT, how=COMMAND)
    rotate_log_key(w.operator, SECOND, old=FIRST, reason=PLANNED, deed=deed)
    settings.LOG_KEY = b64encode(SEEDS[1]).decode()
    one_more(w)

    bundle = made(w)

    keys = [one.key.text for one in sealing.keys_of(w.operator.log)]
    assert keys[0] == w.key
    for key in keys:
        assert check(bundle, keys=[key]).checks("FAULT") == []
    assert "Retired after" in as_one(w).get(w.url).content.decode()


def test_after_a_theft_the_old_key_is_not_enough(w: SimpleNamespace, settings: Any) -> None:
    deed = Deed(by=make.founder_of(w.operator), at=AT, how=COMMAND)
    rotate_log_key(w.operator, SECOND, old=FIRST, reason=STOLEN, good_until=2, deed=deed)
    settings.LOG_KEY = b64encode(SEEDS[1]).decode()

    bundle = made(w)

    assert check(bundle, keys=[w.key]).checks("FAULT") == ["log signature"]
    assert check(bundle, keys=[sealing.keys_of(w.operator.log)[-1].key.text]).checks("FAULT") == []


def test_without_a_key_on_the_server_the_rest_is_told_to_be_unsigned(w: SimpleNamespace, settings: Any) -> None:
    signed = sealing.newest(w.operator.log)
    assert signed is not None
    settings.LOG_KEY = ""
    one_more(w)

    bundle = made(w)
    found = check(bundle, keys=[w.key])

    size = len(bundle.lines)
    first = f"THE FIRST {signed.size} ENTRIES (0 TO {signed.size - 1}) OF {size}"
    assert f"ONLY {first} ARE SIGNED." in bundle.files[v.README].decode()
    assert (found.level, found.checks("FAULT")) == (2, [])
    assert f"The key stands for {first.lower()}." in told(found)


def test_a_record_that_no_key_was_begun_in_says_that_it_is_unsigned(db: None, settings: Any) -> None:
    settings.LOG_KEY = ""
    w = SimpleNamespace(operator=make.operator())
    w.course, w.people = make.course(w.operator), make.staff(w.operator)

    bundle = made(w)
    page = as_one(w).get(reverse("reports:bundle", args=[w.course.pk])).content.decode()

    assert "NOTHING HERE IS SIGNED." in bundle.files[v.README].decode()
    assert check(bundle).level == 2
    assert check(bundle, keys=[notes.key_of(bundle.name, FIRST).text]).checks("FAULT") == ["log signature"]
    assert "This record is not signed" in page


def test_what_witnesses_answered_stands_under_the_states(w: SimpleNamespace) -> None:
    state = sealing.seal(w.operator.log, at=AT)
    line = notes.cosigned(state.note, WITNESS_NAME, WITNESS, unix_time=int(AT.timestamp()))
    Countersignature.objects.create(
        log=w.operator.log,
        size=state.size,
        witness=WITNESS_NAME,
        key=WITNESS_KEY,
        line=line,
        seen_at=AT,
        received_at=AT,
    )

    bundle = made(w)
    found = check(bundle, keys=[w.key], witnesses=[WITNESS_KEY], prev=[state.note])

    assert bundle.files[v.HEAD].decode() == state.note + line == bundle.state(state.size)
    assert found.level == 4
    one_more(w)
    after = check(made(w), keys=[w.key], witnesses=[WITNESS_KEY], prev=[state.note])
    assert (after.level, after.checks("FAULT"), after.checks("limit")) == (3, [], ["witness"])


# --- what is not as it should be


def test_a_record_that_was_changed_in_the_database_is_given_away_as_it_is_and_found_altered(w: SimpleNamespace) -> None:
    made(w)
    connection.check_constraints()  # what was put off would stand in the way of taking triggers away
    triggers.drop(connection)
    row = next(one for one in Entry.objects.filter(log=w.operator.log) if b'"Heron"' in bytes(one.data))
    Entry.objects.filter(pk=row.pk).update(data=bytes(row.data).replace(b'"Heron"', b'"Egret"'))
    connection.check_constraints()
    triggers.create(connection)

    found = check(made(w), keys=[w.key])

    assert found.level == 1
    assert "tree head" in found.checks("FAULT")


def test_a_photo_that_is_not_in_the_store_is_missed_by_command_and_program(w: SimpleNamespace, tmp_path: Path) -> None:
    path_of(w.operator.pk, w.photo).unlink()
    said = io.StringIO()

    call_command("export_bundle", operator="Kestrel Hollow", out=tmp_path / "b.zip", stderr=said, stdout=io.StringIO())

    assert f"photos/{w.photo}.jpg is named by an entry and is not in the store." in said.getvalue()
    assert check((tmp_path / "b.zip").read_bytes(), keys=[w.key]).checks("FAULT") == ["photos"]


# --- the command


def test_the_command_writes_a_file_for_its_owner_alone_and_never_over_another(
    w: SimpleNamespace, tmp_path: Path
) -> None:
    out, said, warned = tmp_path / "b.zip", io.StringIO(), io.StringIO()

    call_command("export_bundle", "--operator", "kestrel hollow", "--out", str(out), stdout=said, stderr=warned)

    size = Entry.objects.filter(log=w.operator.log).count()
    assert said.getvalue() == f"{out}: {size} entries of Kestrel Hollow, {out.stat().st_size} bytes.\n"
    assert warned.getvalue() == ""
    assert stat.S_IMODE(out.stat().st_mode) == 0o600
    assert check(out.read_bytes(), keys=[w.key]).level == 3
    kept = out.read_bytes()
    with pytest.raises(CommandError, match="was not written"):
        call_command("export_bundle", "--operator", "Kestrel Hollow", "--out", str(out))
    assert out.read_bytes() == kept


def test_the_command_takes_a_line_by_name_or_number(w: SimpleNamespace, tmp_path: Path) -> None:
    for number, name in enumerate(("heron", "1")):
        out = tmp_path / f"{number}.zip"
        call_command(
            "export_bundle", "--operator", w.operator.name, "--out", str(out), "--line", name, "--course",
            w.course.name, stdout=(said := io.StringIO()),
        )  # fmt: skip
        assert said.getvalue().startswith(f"{out}: Heron alone, of the ")
        assert check(out.read_bytes(), keys=[w.key]).info["line"] == "Heron"


@pytest.mark.parametrize(
    "more",
    [
        ["--line", "Nobody's"], ["--line", "2"], ["--line", "Heron launch"], ["--course", "Kestrel Hollow Lines"],
        ["--line", "Heron", "--course", "Elsewhere"],
        ["--line", "Heron", "--from", "2026-06-15", "--to", "2026-06-15"],
    ],
)  # fmt: skip
def test_the_command_refuses_what_is_not_one_line(w: SimpleNamespace, tmp_path: Path, more: list[str]) -> None:
    with pytest.raises(CommandError):
        call_command("export_bundle", "--operator", w.operator.name, "--out", str(tmp_path / "x.zip"), *more)
    assert not (tmp_path / "x.zip").exists()


def test_a_line_that_two_courses_have_is_asked_back(w: SimpleNamespace, tmp_path: Path) -> None:
    make.line(make.course(w.operator, "Second course"), 1, "Heron")
    with pytest.raises(CommandError, match="2 lines are called 'Heron'"):
        call_command(
            "export_bundle", "--operator", w.operator.name, "--out", str(tmp_path / "x.zip"), "--line", "Heron"
        )


def test_the_command_takes_days(w: SimpleNamespace, tmp_path: Path) -> None:
    out = tmp_path / "b.zip"
    call_command(
        "export_bundle", "--operator", "Kestrel Hollow", "--out", str(out), "--from", "2026-05-01",
        "--to", "2026-05-02", stdout=(said := io.StringIO()),
    )  # fmt: skip

    size = Entry.objects.filter(log=w.operator.log).count()
    assert said.getvalue().startswith(f"{out}: 2026-05-01 to 2026-05-02, of the {size} entries of Kestrel Hollow, ")
    assert json.loads(Bundle.of(out.read_bytes()).files[v.RANGE])["to"] == "2026-05-02"


def test_the_command_names_the_operators_that_are_there(w: SimpleNamespace, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match=r"0 operators are called 'Kestrel'\. Those here: 'Kestrel Hollow'\."):
        call_command("export_bundle", "--operator", "Kestrel", "--out", str(tmp_path / "b.zip"))


@pytest.mark.parametrize(
    "arguments",
    [
        ("--operator", "Nobody"),
        ("--operator", "Kestrel Hollow", "--from", "2026-05-01"),
        ("--operator", "Kestrel Hollow", "--from", "2026-05-02", "--to", "2026-05-01"),
    ],
)
def test_the_command_refuses_what_it_does_not_understand(
    w: SimpleNamespace, tmp_path: Path, arguments: tuple[str, ...]
) -> None:
    with pytest.raises(CommandError):
        call_command("export_bundle", *arguments, "--out", str(tmp_path / "b.zip"))
    assert not (tmp_path / "b.zip").exists()


def test_the_command_says_that_the_newest_entries_are_unsigned(
    w: SimpleNamespace, tmp_path: Path, settings: Any
) -> None:
    settings.LOG_KEY = ""
    said = io.StringIO()

    call_command("export_bundle", operator="Kestrel Hollow", out=tmp_path / "b.zip", stderr=said, stdout=io.StringIO())

    assert said.getvalue() == "The newest entries in it are not signed. No log key is set on this server.\n"


# --- the ZIP file while it is made


def test_memory_stays_flat_however_much_is_sent() -> None:
    def zeros() -> Iterator[bytes]:
        for _ in range(64):
            yield uuid.uuid4().bytes * (1 << 14)  # 256 KiB

    tracemalloc.start()
    longest = sent = 0
    for piece in streamed([Member(f"{n}.jpg", zeros(), packed=n % 2 == 0) for n in range(4)], at=AT):
        longest, sent = max(longest, len(piece)), sent + len(piece)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert sent > 32 << 20
    assert longest < 3 * PIECE
    assert peak < 4 << 20


def test_a_file_that_breaks_off_leaves_no_archive_that_opens() -> None:
    def broken() -> Iterator[bytes]:
        yield bytes(PIECE)
        yield uuid.uuid4().bytes * PIECE
        raise OSError("the disk is gone")

    pieces = streamed([Member("a", broken(), packed=False)], at=AT)
    sent = next(pieces)
    with pytest.raises(OSError, match="the disk is gone"):
        list(pieces)

    assert len(sent) > PIECE
    assert list(pieces) == []
    assert not zipfile.is_zipfile(io.BytesIO(sent))
