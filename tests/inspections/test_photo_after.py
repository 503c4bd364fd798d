"""A deed that was signed without a signal is recorded before its photos are here, and nothing gets better by them.

Our own rules (inspections.owing); there is no outside source for them. That SHA-256 names bytes and no others: FIPS
180-4, from memory.
"""

from collections.abc import Callable
from datetime import timedelta
from hashlib import sha256
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.core.management.base import CommandError
from django.urls import reverse

from courses.actions.files import path_of
from courses.models import StoredFile
from inspections import actions
from inspections.actions.releases import release_hindrances
from inspections.actions.sheets import MAX_PHOTOS
from inspections.erasure_check import erasure_faults
from inspections.models import Finding, Reading, Sheet
from inspections.owing import debts_of
from inspections.rebuild import projection_faults, signature_faults
from ledger.models import Entry
from reports.bundle import begin_bundle
from tests import make
from tests.inspections.alone import Held
from tests.inspections.pages import hidden, posted, sheet_url, url
from tests.inspections.test_photos import jpeg
from tests.verifier.record import Bundle, check

pytestmark = pytest.mark.usefixtures("clock")
PICTURE = jpeg((80, 60))
HASH = sha256(PICTURE).hexdigest()
AWAITED = "Photo not here: it had not come from the phone."
LOOK = "TA-06@end-landing"


@pytest.fixture
def out(w: SimpleNamespace, as_: Any, hold: Callable[..., Held]) -> Held:
    """A harness that is taken out of service on the phone, with a photo, a note and the number of its tag."""
    page = as_("technician").get(url(w, "withdraw"))
    typed = {"code": "HA-01", "title": "Riemen", "text": "Gerissen", "tag_number": "0417"}
    return hold(url(w, "withdraw"), {**hidden(page), **typed}, photos=[HASH])


def bring(client: Any, w: SimpleNamespace, data: bytes = PICTURE, **more: str) -> Any:
    there = reverse("inspections:photo_sent", args=[w.course.pk])
    return client.post(there, {"photo": SimpleUploadedFile("a.jpg", data, "image/jpeg"), **more})


def faults(w: SimpleNamespace) -> list[str]:
    return [*signature_faults(w.operator), *projection_faults(w.operator)]


def test_it_is_recorded_first_and_says_which_photo_is_not_here(w: SimpleNamespace, as_: Any, out: Held) -> None:
    client = as_("technician")
    told = out.sent(client, **{"sent-photo": HASH}).json()
    record = Entry.objects.get(kind="finding-opened").record
    assert told["seq"] == record["seq"]
    assert record["act"]["photos"] == record["judged"]["photos_owed"] == [HASH]
    finding = Finding.objects.get()
    assert debts_of(finding) == {"photo": "on-phone"}
    pages = [url(w, "finding", finding.pk), reverse("reports:entry", args=[w.course.pk, record["seq"]])]
    manager = as_("manager")
    for page in pages:
        html = manager.get(page).content.decode()
        assert AWAITED in html
        assert "<img class" not in html
    picture = manager.get(url(w, "photo", HASH))
    assert (picture.status_code, picture.content.decode()) == (404, AWAITED)
    assert manager.get(url(w, "photo", "0" * 64)).content.decode() != AWAITED

    # Whoever may report brings it; another picture is not it.
    entries = Entry.objects.count()
    other = bring(as_("mate"), w, jpeg((60, 80)), sha256=HASH)
    assert (other.status_code, StoredFile.objects.count()) == (422, 0)
    assert "This is not the photo that was signed." in other.json()["refused"]
    assert bring(as_("mate"), w, sha256=HASH).json() == {"sha256": HASH}
    assert path_of(w.operator.pk, HASH).read_bytes() == PICTURE
    assert Entry.objects.count() == entries + 1
    came = Entry.objects.latest("seq").record
    assert (came["kind"], came["act"]["photo"], came["act"]["of"]) == ("photo-arrived", HASH, record["act"]["id"])
    assert came["act"]["signer"]["ref"] == w.mate.ref
    bring(client, w, sha256=HASH)
    assert Entry.objects.count() == entries + 1
    assert debts_of(finding) == {}
    for page in pages:
        html = manager.get(page).content.decode()
        assert AWAITED not in html
        assert f'<img class="thumb" src="{url(w, "photo", HASH)}"' in html
    assert faults(w) == []


def test_a_release_waits_for_the_photo(w: SimpleNamespace, as_: Any, out: Held) -> None:
    client = as_("technician")
    out.sent(client, **{"sent-photo": HASH})
    finding = Finding.objects.get()
    owed = "Still owed: a photo."
    assert owed in release_hindrances(make.picture(w, w.t(30)), finding, w.mate.ref)
    # Added to it once more, it is not here any more than before.
    actions.add_to_finding(
        make.picture(w, w.t(30)), finding, text="Seen.", photos=(HASH,), deed=make.deed(w.mate, at=w.t(30))
    )
    note = Entry.objects.get(kind="finding-note").record
    assert note["judged"] == {"owed": {"photo": "on-phone"}, "photos_owed": [HASH]}
    finding.refresh_from_db()
    assert owed in release_hindrances(make.picture(w, w.t(31)), finding, w.mate.ref)
    bring(client, w)
    assert owed not in release_hindrances(make.picture(w, w.t(32)), finding, w.mate.ref)


def test_a_sheet_comes_before_its_photos_and_its_finding_owes_them(
    w: SimpleNamespace, as_: Any, hold: Callable[..., Held]
) -> None:
    client = as_("technician")
    said = {f"mark-{LOOK}": "defect", f"note-{LOOK}": "Lose", f"kept-{LOOK}": "defect"}
    fields = {**hidden(client.get(sheet_url(w))), "sign": "1", **posted(w, **said)}
    held = hold(sheet_url(w), {**fields, f"photo-{LOOK}": SimpleUploadedFile("a.jpg", PICTURE, "image/jpeg")})
    path_of(w.operator.pk, HASH).unlink()  # it is on the phone alone
    StoredFile.objects.all().delete()
    held.fields.pop(f"photo-{LOOK}")
    assert "seq" in held.sent(client, **{f"sent-photo-{LOOK}": HASH, f"had-{LOOK}": HASH}).json()
    [reading] = Reading.objects.filter(key=LOOK)
    assert reading.photos == [HASH]
    assert Finding.objects.get(key=LOOK).owed["photo"] == "on-phone"
    assert AWAITED in client.get(url(w, "signed", Sheet.objects.get().pk)).content.decode()
    assert faults(w) == []


@pytest.mark.parametrize(
    ("named", "header", "says"),
    [
        ([HASH], False, "A photo of this is not here, or was erased."),
        (["no hash"], True, "A photo of this is not here, or was erased."),
        ([f"{number:064x}" for number in range(MAX_PHOTOS + 1)], True, "At most 12 photos belong to one item."),
    ],
)
def test_only_a_phone_that_sends_names_what_is_not_here(
    w: SimpleNamespace, as_: Any, out: Held, named: list[str], header: bool, says: str
) -> None:
    client = as_("technician")
    more = {"sent-photo": named}
    answer = out.sent(client, **more) if header else client.post(out.path, {**out.fields, **more})
    assert says in (answer.json()["refused"] if header else answer.content.decode())
    assert not Finding.objects.exists()


def test_what_was_erased_cannot_come_again(w: SimpleNamespace, as_: Any, out: Held) -> None:
    client = as_("technician")
    bring(client, w)
    StoredFile.objects.update(erased_seq=1, erased_at=w.t(0) - timedelta(days=1))
    assert "A photo of this is not here, or was erased." in out.sent(client, **{"sent-photo": HASH}).json()["refused"]


def test_a_photo_that_was_here_and_is_gone_is_a_fault_and_one_that_never_came_is_not(
    w: SimpleNamespace, as_: Any, out: Held
) -> None:
    client = as_("technician")
    out.sent(client, **{"sent-photo": HASH})
    call_command("verify_ledger")
    had = make.photo(w)
    entry = actions.open_finding(
        make.picture(w, w.t(0)), w.line, title="Rost", severity="minor", photos=(had,),
        deed=make.deed(w.mate, at=w.t(0)),
    )  # fmt: skip
    call_command("verify_ledger")
    StoredFile.objects.filter(sha256=had).delete()
    with pytest.raises(CommandError):
        call_command("verify_ledger")
    [fault] = erasure_faults(w.operator)
    assert fault == f"Entry {entry.seq}: the photo {had} that it names is not kept here, and no phone owed it."


def test_an_owed_photo_that_came_and_was_taken_away_is_a_fault_everywhere(
    w: SimpleNamespace, as_: Any, out: Held
) -> None:
    client = as_("technician")
    out.sent(client, **{"sent-photo": HASH})
    path_of(w.operator.pk, HASH).unlink(missing_ok=True)  # a test before may have brought it
    assert checked(w) == ["limit"]
    bring(client, w, sha256=HASH)
    call_command("verify_ledger")
    assert checked(w) == []

    path_of(w.operator.pk, HASH).unlink()
    StoredFile.objects.all().delete()

    seq = Entry.objects.get(kind="photo-arrived").seq
    assert list(erasure_faults(w.operator)) == [
        f"Entry {seq}: the photo {HASH} that it names is not kept here, and no phone owed it."
    ]
    assert as_("manager").get(url(w, "photo", HASH)).content.decode() != AWAITED
    assert checked(w) == ["FAULT"]


def checked(w: SimpleNamespace) -> list[str]:
    """Return the marks that the program which is handed out gives the photos of a bundle made now."""
    bundle = Bundle.of(b"".join(begin_bundle(w.operator, at=w.t(100)).chunks()))
    return [mark for mark, _sentence in check(bundle).said["photos"]]
