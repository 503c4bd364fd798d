"""Erasing through the pages: asked for, seen, confirmed by the second person; and what every page shows afterwards.

What stays readable and what does not: the project's own rules (README, "What can be forgotten").
"""

from __future__ import annotations

import csv
import html as markup
import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from io import StringIO
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.db import transaction
from django.test import Client, TestCase, override_settings
from django.urls import reverse

from courses.actions.files import path_of
from ledger import acts
from ledger.models import Disclosure, Entry
from reports.actions import issue_day_sheet
from reports.day_links import give_link
from tests import make
from tests.inspections.erasing_world import NOTE, ask, erase, retire, world
from tests.reports.paper_reader import pages
from tests.signing import Phone, prepared

REASON = "Letter of 3 July 2031."


@pytest.fixture(scope="module")
def built(
    django_db_setup: None, django_db_blocker: Any, morning: datetime, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[SimpleNamespace]:
    """``tests.inspections.erasing_world`` with the part retired."""
    media = tmp_path_factory.mktemp("files")
    with django_db_blocker.unblock(), override_settings(MEDIA_ROOT=media), transaction.atomic():
        w = world(morning)
        retire(w, at=w.at + timedelta(days=12))
        w.media = media
        yield w
        transaction.set_rollback(True)


@pytest.fixture
def w(built: SimpleNamespace, db: None, settings: Any) -> Iterator[SimpleNamespace]:
    settings.MEDIA_ROOT = built.media
    w = SimpleNamespace(**vars(built))
    for name in ("technician", "manager", "engineer", "mate", "deputy", "auditor"):
        setattr(w, name, type(getattr(w, name)).objects.get(pk=getattr(w, name).pk))
    files = {path: path.read_bytes() for path in w.media.rglob("*") if path.is_file()}
    with time_machine.travel(w.later, tick=False):
        yield w
    for path, data in files.items():
        if not path.exists():
            path.write_bytes(data)


def as_(person: Any) -> Client:
    client = Client()
    client.force_login(person)
    return client


def address(w: SimpleNamespace, name: str, *more: Any) -> str:
    return reverse(f"reports:{name}", args=[w.course.pk, *more])


def text_of(response: Any) -> str:
    return markup.unescape(" ".join(re.sub(r"<[^>]+>", " ", response.content.decode()).split()))


def asked(w: SimpleNamespace, path: str, *, by: Any = None, **more: str) -> Any:
    fields = {"grounds": "asked", "reason": REASON, "password": make.WORD, "deed_id": str(uuid4()), **more}
    return as_(by or w.manager).post(path, fields, follow=True)


def confirmed(w: SimpleNamespace, seq: int, *, by: Any = None) -> Any:
    with TestCase.captureOnCommitCallbacks(execute=True):
        return as_(by or w.engineer).post(
            address(w, "erasure", seq), {"sure": "on", "password": make.WORD, "deed_id": str(uuid4())}, follow=True
        )


def last(w: SimpleNamespace) -> Entry:
    return Entry.objects.filter(log=w.operator.log_id).latest("seq")


def test_a_name_is_asked_for_seen_and_erased(w: SimpleNamespace) -> None:
    page = text_of(as_(w.manager).get(address(w, "ask_person")))
    assert f"Tarik Oben ({w.technician.ref})" in page
    assert "Runa Feld" not in page  # has a role
    assert "is local law" in page

    answer = text_of(asked(w, address(w, "ask_person"), person=w.technician.ref))

    assert "Nothing is erased until a second person has confirmed it." in answer
    assert f"The name of Tarik Oben ({w.technician.ref}) Waits for the second person" in answer
    assert f"The person asked for it: {REASON}" in answer
    seq = last(w).seq
    count = Disclosure.objects.filter(log=w.operator.log_id, subject=w.technician.ref).count()
    mine, theirs = (text_of(as_(one).get(address(w, "erasure", seq))) for one in (w.manager, w.engineer))
    assert "You asked for it. Somebody else has to confirm it." in mine
    assert "Erase for ever" not in mine
    assert f"In {count} places of the record the name is replaced" in theirs
    assert "keep the name as printed, until they are erased too" in theirs
    assert "Somebody of the other role has to confirm it." in text_of(as_(w.deputy).get(address(w, "erasure", seq)))

    done = text_of(confirmed(w, seq))

    assert f"It was erased, by entry {last(w).seq}." in done
    assert f"The name of {w.technician.ref} Erased" in done
    assert "Tarik Oben" not in done
    person = text_of(as_(w.manager).get(reverse("accounts:person", args=[w.operator.pk, w.technician.pk])))
    assert "name erased" in person
    assert "E-mail address" not in person
    assert "Give a role" not in person


def test_without_the_tick_or_the_password_nothing_goes(w: SimpleNamespace) -> None:
    seq = ask(w, person=w.technician.ref).seq
    for fields in ({"password": make.WORD}, {"sure": "on", "password": "wrong"}, {"sure": "on"}):
        assert as_(w.engineer).post(address(w, "erasure", seq), fields).status_code == 200
    assert Disclosure.objects.filter(subject=w.technician.ref).exists()


def test_what_is_asked_for_too_early_is_told_with_its_day(w: SimpleNamespace) -> None:
    with time_machine.travel(w.at + timedelta(days=300), tick=False):
        page = text_of(as_(w.manager).get(address(w, "ask_person")))
        assert f"Tarik Oben ({w.technician.ref}), not before 26 June 2031" in page
        assert "It shows somebody" not in page
        answer = text_of(asked(w, address(w, "ask_person"), person=w.technician.ref))
        assert "It can be erased from 26 June 2031 on." in answer
        photo = text_of(as_(w.manager).get(address(w, "ask_one", "photo", w.photo)))
        assert "It can be erased from 17 June 2031 on." in photo
        assert "Ask for it" not in photo


def test_an_asking_is_withdrawn(w: SimpleNamespace) -> None:
    seq = ask(w, person=w.technician.ref).seq
    answer = as_(w.engineer).post(address(w, "withdraw_erasure", seq), {"password": make.WORD}, follow=True)
    assert "It is not asked for any more. Nothing was erased." in text_of(answer)
    assert "Withdrawn" in text_of(as_(w.auditor).get(address(w, "erasures")))
    assert "This was decided or withdrawn already." in text_of(as_(w.engineer).get(address(w, "erasure", seq)))


def test_the_entry_page_leads_to_what_can_be_asked_for(w: SimpleNamespace) -> None:
    path = address(w, "entry", w.found.seq)
    html = as_(w.manager).get(path).content.decode()
    for what, digest in (("note", w.note), ("photo", w.photo)):
        assert address(w, "ask_one", what, digest) in html
    signer = w.found.record["act"]["signer"]["commit"]
    assert address(w, "ask_one", "note", signer) not in html
    assert address(w, "ask_one", "paper", w.paper.sha256) in as_(w.manager).get(
        address(w, "entry", w.paper.seq)
    ).content.decode()  # fmt: skip
    assert "ask" not in re.findall(r'href="[^"]*/erasing/([a-z]+)/', as_(w.auditor).get(path).content.decode())
    assert as_(w.manager).get(address(w, "ask_one", "photo", "0" * 64)).status_code == 404
    assert as_(w.manager).get(address(w, "ask_one", "source", w.photo)).status_code == 404


def test_the_page_of_somebody_who_has_gone_leads_there(w: SimpleNamespace) -> None:
    path = f"{address(w, 'ask_person')}?person={w.technician.ref}"
    person, mate = (
        as_(w.manager).get(reverse("accounts:person", args=[w.operator.pk, one.pk])).content.decode()
        for one in (w.technician, w.mate)
    )
    assert path in person
    assert "erasing" not in mate
    assert re.search(rf'value="{w.technician.ref}"[^>]*checked', as_(w.manager).get(path).content.decode())


def test_asked_and_confirmed_by_keys_of_their_own(w: SimpleNamespace) -> None:
    def signed(number: int, who: Any, path: str, fields: dict[str, str]) -> Entry:
        phone, client = Phone(number), as_(who)
        phone.enrol(w.operator, who, at=w.later)
        fields = {**fields, "password": make.WORD, "deed_id": str(uuid4())}
        said = prepared(client, path, fields).json()
        assert Disclosure.objects.filter(commit=w.note).exists()  # to prepare takes nothing away
        client.post(path, {**fields, **phone.signed(said)})
        entry = Entry.objects.get(act_id=fields["deed_id"])
        record, point = entry.record, acts.point_of(phone.public) or b""
        assert acts.is_signed(point, record["sig"]["sig"], acts.message(entry.kind, record["act"]))
        return entry

    one = signed(1, w.manager, address(w, "ask_one", "note", w.note), {"grounds": "over", "reason": REASON})
    done = signed(2, w.engineer, address(w, "erasure", one.seq), {"sure": "on"})

    assert (one.kind, done.kind) == ("erasure-asked", "erasure")
    assert not Disclosure.objects.filter(commit=w.note).exists()


# --- afterwards


def shown(w: SimpleNamespace) -> dict[str, str]:
    """Return the text of every page and table on which the name, the note or the photo stood."""
    auditor, on = as_(w.auditor), w.at.date()
    next_day = on + timedelta(days=1)
    found = {
        "day": text_of(auditor.get(address(w, "day", on))),
        "next day": text_of(auditor.get(address(w, "day", next_day))),
        "record": text_of(auditor.get(address(w, "entries"), {"from": str(w.found.seq)})),
        "entry": text_of(auditor.get(address(w, "entry", w.found.seq))),
        "part": text_of(auditor.get(address(w, "component", w.part.pk))),
        "people": text_of(auditor.get(reverse("accounts:people", args=[w.operator.pk]))),
        "person": text_of(auditor.get(reverse("accounts:person", args=[w.operator.pk, w.technician.pk]))),
        "finding": text_of(
            auditor.get(reverse("inspections:finding", args=[w.course.pk, w.course.findings.get(seq=w.found.seq).pk]))
        ),
    }
    for what in ("readings", "rides", "findings"):
        query = {"first": on.isoformat(), "last": next_day.isoformat()}
        rows = b"".join(auditor.get(address(w, "export", what), query).streaming_content).decode()  # type: ignore[attr-defined]
        assert len(list(csv.reader(StringIO(rows, newline="")))) > 1
        found[what] = rows
    return found


def test_afterwards_no_page_shows_it_and_each_says_so(w: SimpleNamespace) -> None:
    before = shown(w)
    names = {page for page, text in before.items() if "Tarik Oben" in text}
    assert names >= {"day", "record", "people", "person", "readings", "rides"}
    assert {page for page, text in before.items() if NOTE in text} >= {"next day", "entry", "finding", "part"}
    with TestCase.captureOnCommitCallbacks(execute=True):
        erase(w, ask(w, person=w.technician.ref))
        erase(w, ask(w, notes=[w.note]))
        gone = erase(w, ask(w, photos=[w.photo]))

    after = shown(w)

    for page, text in after.items():
        assert "Tarik Oben" not in text, page
        assert NOTE not in text, page
    for page in names - {"people", "person"}:
        assert "name erased" in after[page], page
    sentence = f"Photo erased on {gone.t:%-d %B %Y}, decided by entry {gone.seq}."
    for page in ("next day", "entry", "finding"):
        assert sentence in after[page], page
    photo = as_(w.auditor).get(reverse("inspections:photo", args=[w.course.pk, w.photo]))
    assert (photo.status_code, photo.content.decode()) == (410, sentence)


def test_a_day_sheet_drawn_afterwards_does_not_have_the_name(w: SimpleNamespace) -> None:
    before = "\n".join(pages(path_of(w.operator.pk, w.paper.sha256).read_bytes()))
    assert "Tarik Oben" in before
    erase(w, ask(w, person=w.technician.ref))

    again = issue_day_sheet(w.no_sheet, deed=make.deed(w.manager, at=w.later + timedelta(hours=1)))

    text = "\n".join(pages(path_of(w.operator.pk, again.sha256).read_bytes()))
    assert "Tarik Oben" not in text
    assert "name erased" in text


def test_an_erased_paper_says_so_on_its_page_and_by_a_link(w: SimpleNamespace) -> None:
    link = give_link(w.course, w.at.date(), days=3, whom="Inspector", deed=make.deed(w.manager, at=w.later))
    seq = ask(w, papers=[w.paper.sha256]).seq
    assert "A paper is never drawn again" in text_of(as_(w.engineer).get(address(w, "erasure", seq)))
    confirmed(w, seq)

    answers = [
        as_(w.auditor).get(address(w, "paper", w.paper.pk)),
        Client().get(reverse("reports:linked_paper", args=[link, w.paper.pk])),
    ]

    for answer in answers:
        assert answer.status_code == 410
        assert f"decided by entry {last(w).seq}." in text_of(answer)
    assert not path_of(w.operator.pk, w.paper.sha256).exists()
    kept = issue_day_sheet(w.paper.sign_off, deed=make.deed(w.manager, at=w.later))
    assert kept.pk == w.paper.pk  # never drawn again
