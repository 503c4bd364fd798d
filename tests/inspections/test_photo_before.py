"""A photo that came before its deed belongs to it; one that never came is not left out in silence.

Our own rule (inspections.views.papers.sent_before): what was signed names the photo, so nothing else may be recorded.
"""

from datetime import datetime
from hashlib import sha256

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from inspections.models import Finding
from ledger.models import Entry
from tests import make
from tests.inspections.test_photos import jpeg

pytestmark = pytest.mark.django_db


def test_a_deed_has_the_photos_that_came_before_it_and_no_deed_names_one_that_did_not(
    client: Client, morning: datetime, clock: time_machine.Traveller
) -> None:
    w = make.ready(on=morning)
    client.force_login(w.technician)
    there, withdraw = (reverse(f"inspections:{name}", args=[w.course.pk]) for name in ("photo_sent", "withdraw"))
    said = client.post(there, {"photo": SimpleUploadedFile("a.jpg", jpeg((80, 60)), "image/jpeg")}).json()
    fields = {"code": "HA-01", "title": "Riemen gerissen"}

    never = client.post(withdraw, {**fields, "sent-photo": [said["sha256"], sha256(b"never").hexdigest()]})
    assert never.status_code == 200
    assert "A photo of this is not here, or was erased." in never.content.decode()
    assert not Finding.objects.exists()

    assert client.post(withdraw, {**fields, "sent-photo": said["sha256"]}).status_code == 302
    entry = Entry.objects.get(kind="finding-opened")
    assert entry.record["act"]["photos"] == [said["sha256"]]

    no_photo = client.post(there, {"photo": SimpleUploadedFile("a.jpg", b"no picture", "image/jpeg")})
    assert (no_photo.status_code, list(no_photo.json())) == (422, ["refused"])
