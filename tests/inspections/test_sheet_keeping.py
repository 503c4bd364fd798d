"""A sheet while it is filled in: what is kept with each item, what is asked back, what goes out of service at once."""

import re
from io import BytesIO
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from inspections.actions.sheets import MAX_PHOTOS
from inspections.models import Draft, Finding, FindingStep, Reading, Sheet
from ledger.models import Entry
from tests import make
from tests.inspections.pages import hidden, posted, sheet_url, text, url
from tests.inspections.test_sheets import _add_an_item, _tighten

SPRING = "BS-1@primary-1"
LOOK = "TA-06@end-landing"
MARK = "TA-04M@end-landing"

pytestmark = pytest.mark.usefixtures("clock")


def keep(client: Client, w: SimpleNamespace, key: str, **fields: Any) -> dict[str, Any]:
    """Send one item as the script does and return what is said of it."""
    answer = client.post(sheet_url(w), {"item": key, **fields}, headers={"accept": "application/json"})
    assert answer.status_code in {200, 422}, answer.content
    return dict(answer.json()["item"][key])


def photo(shade: int = 0) -> SimpleUploadedFile:
    out = BytesIO()
    Image.new("RGB", (16, 12), (shade, 80, 120)).save(out, "JPEG")
    return SimpleUploadedFile("a.jpg", out.getvalue(), content_type="image/jpeg")


# --- what is said of an item


def test_the_verdict_comes_with_its_clause_before_anything_is_signed(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")

    said = keep(client, w, SPRING, **{f"text-{SPRING}": "599"})

    assert said["verdict"] == "ok"
    assert said["clause"]
    assert said["clause"] in text(client.get(sheet_url(w))).replace("&#x27;", "'").replace("&amp;", "&")
    assert not Entry.objects.filter(kind="sheet").exists()


def test_what_cannot_be_checked_asks_why_and_a_figure_can_be_left_undone_too(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    for key in (LOOK, SPRING):
        fields = {f"mark-{key}": "cannot_check", f"text-{key}": ""}
        said = keep(client, w, key, **fields)
        assert (said["verdict"], said["need"]) == ("unknown", "Say in the note why it can't be checked today.")

        said = keep(client, w, key, **fields, **{f"note-{key}": "Ice on it."})
        assert (said["verdict"], said["need"]) == ("unknown", "")

    fields = {f"mark-{SPRING}": "cannot_check", f"note-{SPRING}": "Ice on it."}
    client.post(sheet_url(w), {"sign": "1", **posted(w), **fields, f"text-{SPRING}": "599"})
    # Who says that it could not be checked is believed, whatever else stands in the field.
    assert Reading.objects.get(key=SPRING, sheet__isnull=False).verdict == "unknown"


def test_the_box_that_is_no_longer_ticked_counts_no_more(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    keep(client, w, SPRING, **{f"mark-{SPRING}": "cannot_check", f"text-{SPRING}": ""})

    assert keep(client, w, SPRING, **{f"text-{SPRING}": "599"})["verdict"] == "ok"


def test_the_gauge_of_the_register_is_offered_and_what_was_used_is_in_the_record(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    page = client.get(sheet_url(w)).content.decode()
    assert re.search(rf'name="gauge-{SPRING}"[^>]*>(<option[^>]*>[^<]*</option>)*<option selected>rule 1<', page)

    client.post(sheet_url(w), {"sign": "1", **posted(w), f"gauge-{SPRING}": "rule 2"})

    record = Entry.objects.filter(kind="sheet").latest("seq").record
    [reading] = [one for one in record["act"]["readings"] if one["key"] == SPRING]
    assert reading["gauge"] == "rule 2"


def test_a_pair_has_a_field_for_each_reading(w: SimpleNamespace, as_: Any) -> None:
    items = make.picture(w, w.t(0)).section(w.line, "cable").items
    key = next(item["key"] for item in items if item["kind"] == "pair")
    client, address = as_("technician"), sheet_url(w, "cable")

    def send(**fields: str) -> dict[str, Any]:
        answer = client.post(address, {"item": key, **fields}, headers={"accept": "application/json"})
        return dict(answer.json()["item"][key])

    half = send(**{f"text-{key}": "12.9", f"second-{key}": ""})
    whole = send(**{f"text-{key}": "12.9", f"second-{key}": "12.8"})

    assert half["sentence"].startswith("Two readings are needed")
    assert whole["verdict"] == "ok"
    assert Draft.objects.get().content[key]["text"] == "12.9 / 12.8"
    page = client.get(address).content.decode()
    assert re.search(rf'name="text-{key}"[^>]*value="12.9"', page)
    assert re.search(rf'name="second-{key}"[^>]*value="12.8"', page)


def test_a_caution_stands_at_the_first_of_the_items_that_share_it(w: SimpleNamespace, as_: Any) -> None:
    items = make.picture(w, w.t(0)).section(w.line, "landing").items
    runs = [
        item["caution"]
        for before, item in zip([{"caution": ""}, *items], items, strict=False)
        if item["caution"] and item["caution"] != before["caution"]
    ]
    assert runs

    page = as_("technician").get(sheet_url(w)).content.decode()
    items_shown = "".join(re.findall(r'<fieldset class="item".*?</fieldset>', page, re.DOTALL))

    assert items_shown.count('<p class="caution">') == len(runs)


# --- asked back


def test_a_defect_is_asked_back_in_words_of_its_own_and_then_counts_at_once(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    said = keep(client, w, LOOK, **{f"mark-{LOOK}": "defect"})
    assert (said["ask"]["said"], said["ask"]["keep_word"]) == ("Defect", "Out of service")
    assert (said["out"], Finding.objects.exists()) == ("", False)

    said = keep(client, w, LOOK, **{f"mark-{LOOK}": "defect", "keep": LOOK})

    assert (said["verdict"], said["ask"]) == ("withdraw", None)
    assert said["out"] == "Out of service since 07:30, until it is released."
    assert said["need"].startswith("Out of service: say in the note what is wrong.")
    assert Finding.objects.get().owed.keys() == {"photo", "note", "tag"}


def test_what_was_insisted_on_without_a_signal_counts_when_its_item_comes(w: SimpleNamespace, as_: Any) -> None:
    """The press was answered on the phone, and its page left before there was a signal."""
    client = as_("technician")
    said = keep(client, w, LOOK, **{f"mark-{LOOK}": "defect", f"kept-{LOOK}": "defect"})
    assert (said["verdict"], said["out"]) == ("withdraw", "Out of service since 07:30, until it is released.")
    assert Finding.objects.get().key == LOOK
    keep(client, w, LOOK, **{f"mark-{LOOK}": "defect", f"kept-{LOOK}": "defect", f"note-{LOOK}": "Slipped."})
    assert Finding.objects.count() == 1
    # What was insisted on of another answer is not.
    keep(client, w, SPRING, **{f"text-{SPRING}": "560", f"kept-{SPRING}": "561"})
    assert Finding.objects.count() == 1


def test_what_was_owed_is_paid_by_the_sheet_that_carries_it(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    keep(client, w, SPRING, **{f"text-{SPRING}": "560", "keep": SPRING})
    keep(client, w, SPRING, **{f"text-{SPRING}": "560", f"note-{SPRING}": "Twice.", f"photo-{SPRING}": photo()})
    assert Finding.objects.get().owed.keys() == {"photo", "note", "tag"}

    fields = posted(w, **{f"text-{SPRING}": "560", f"note-{SPRING}": "Twice."})
    client.post(sheet_url(w), {"sign": "1", **fields})

    finding = Finding.objects.get()
    assert finding.owed.keys() == {"tag"}
    assert [step.kind for step in FindingStep.objects.order_by("seq")] == ["opened", "note"]
    [step] = FindingStep.objects.filter(kind="note")
    assert step.photos == Reading.objects.get(key=SPRING, sheet__isnull=False).photos != []


def test_a_debt_of_somebody_else_is_not_paid_by_my_sheet(w: SimpleNamespace, as_: Any) -> None:
    keep(as_("mate"), w, SPRING, **{f"text-{SPRING}": "560", "keep": SPRING})
    client = as_("technician")
    keep(client, w, SPRING, **{f"text-{SPRING}": "561", f"note-{SPRING}": "Mine.", "keep": SPRING})

    client.post(sheet_url(w), {"sign": "1", **posted(w, **{f"text-{SPRING}": "561", f"note-{SPRING}": "Mine."})})

    assert Sheet.objects.filter(section="landing").exists()
    assert Finding.objects.get().owed.keys() == {"photo", "note", "tag"}


# --- photos


def test_a_photo_whose_answer_was_lost_and_that_comes_again_is_the_same_photo(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    for _try in range(2):
        said = keep(client, w, LOOK, **{f"mark-{LOOK}": "sound", f"photo-{LOOK}": photo()})

    [sha256] = Draft.objects.get().content[LOOK]["photos"]
    assert said["photos"] == [url(w, "photo", sha256)]


def test_one_photo_too_many_is_refused_and_the_others_stay(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    for shade in range(MAX_PHOTOS):
        keep(client, w, LOOK, **{f"mark-{LOOK}": "sound", f"photo-{LOOK}": photo(shade * 20)})

    said = keep(client, w, LOOK, **{f"mark-{LOOK}": "sound", f"photo-{LOOK}": photo(255)})

    assert said["need"] == f"At most {MAX_PHOTOS} photos belong to one item."
    assert len(Draft.objects.get().content[LOOK]["photos"]) == MAX_PHOTOS


# --- opened then, sent now


def test_a_form_without_script_is_judged_by_the_limits_that_it_showed_too(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    form = hidden(client.get(sheet_url(w)))
    shown = str(make.picture(w, w.t(0)).setup.version("limits", w.line.pk).pk)
    _tighten(w, MARK, "0.3", at=0)

    refused = client.post(sheet_url(w), {**form, "sign": "1", **posted(w, **{f"text-{MARK}": "0.4"})})

    assert "If you keep it, it is out of service at once." in text(refused)
    assert Draft.objects.get().versions["limits"] == shown


def test_an_item_added_since_is_marked_and_asked_for(w: SimpleNamespace, as_: Any) -> None:
    client = as_("technician")
    form = hidden(client.get(sheet_url(w)))
    fields = posted(w)
    _add_an_item(w, at=0)

    page = text(client.post(sheet_url(w), {**form, "sign": "1", **fields}))

    assert page.count("Added to the checklist since this sheet was opened.") == 1
    assert 'href="#item-NEW-1@end-landing"' in page
    assert not Sheet.objects.filter(section="landing").exists()


def test_a_form_that_says_it_was_opened_under_made_up_versions_is_not_believed(w: SimpleNamespace, as_: Any) -> None:
    forged = {"opened": "eyJhdCI6IiJ9:1wxyz:forged", "save": "1", f"mark-{LOOK}": "sound"}

    as_("technician").post(sheet_url(w), forged)

    in_force = make.picture(w, w.t(0)).setup.checklist(w.line)
    assert Draft.objects.get().versions["checklist"] == str(in_force.pk)


def test_a_sheet_sent_twice_begins_no_new_one(w: SimpleNamespace, as_: Any) -> None:
    client, fields = as_("technician"), {"sign": "1", "deed_id": str(uuid4()), **posted(w)}
    client.post(sheet_url(w), fields)

    again = client.post(sheet_url(w), fields, follow=True)

    assert "This was received already, as entry" in text(again)
    assert Sheet.objects.filter(section="landing").count() == 1
    assert not Draft.objects.exists()


def test_a_script_is_told_in_a_sentence_that_somebody_is_not_authorised(w: SimpleNamespace) -> None:
    client = Client()
    client.force_login(make.person(w.operator, "technician", name="Nils Neu"))

    answer = client.post(sheet_url(w), {"item": LOOK, f"mark-{LOOK}": "sound"}, headers={"accept": "application/json"})

    assert answer.status_code == 409
    assert "not authorised today" in answer.json()["refused"]
    assert not Draft.objects.exists()


# --- correcting


def test_a_correction_carries_note_and_reason_along(w: SimpleNamespace, as_: Any) -> None:
    undone = {LOOK: {"mark": "not_done", "note": "Ice on it."}}
    make.sign(w, w.line, "landing", at=w.t(0), answers=undone)
    sheet = Sheet.objects.get(section="landing")
    client = as_("technician")

    page = client.post(url(w, "correct", sheet.pk), follow=True)
    assert "Ice on it." in text(page)
    draft = Draft.objects.get()
    client.post(url(w, "draft", draft.pk), {"sign": "1", f"text-{SPRING}": "598.1", "reason": "Misread."})

    correction = Sheet.objects.get(amends=sheet)
    old, new = (text(client.get(url(w, "signed", one.pk))) for one in (sheet, correction))
    before = Reading.objects.get(sheet=sheet, key=SPRING).text
    assert f'<s>{before} mm</s> → <b class="number">598.1 mm</b>' in old
    assert f'<s>{before} mm</s> → <b class="number">598.1 mm</b>' in new
    assert "Misread." in new
    assert f"{old.count('<s>')}{new.count('<s>')}" == "11"  # what stayed the same is not struck through


def test_a_signed_sheet_shows_the_other_sheets_of_the_same_section(w: SimpleNamespace, as_: Any) -> None:
    make.sign(w, w.line, "landing", at=w.t(0))
    make.sign(w, w.line, "landing", by=w.mate, at=w.t(0))
    first, second = Sheet.objects.filter(section="landing").order_by("seq")

    page = text(as_("auditor").get(url(w, "signed", first.pk)))

    assert url(w, "signed", second.pk) in page
    assert w.mate.name in page
