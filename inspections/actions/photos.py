"""A photo that a phone still owed comes: it is kept, and the history says that it was here from then on."""

from __future__ import annotations

import uuid
from dataclasses import replace
from hashlib import sha256
from typing import Any

from django.db import transaction

from accounts.deeds import Deed, demand
from accounts.policy import Right
from courses.models import Course, StoredFile
from inspections.entering import begin, enter
from inspections.owing import act_owing, kept_ever
from inspections.photos import keep_photo, read_photo


def bring_photo(course: Course, file: Any, *, named: str, deed: Deed) -> StoredFile:
    """Keep a photo that comes by itself, and record that it came where an entry has waited for it. Raises Unusable.

    Without that entry nobody could tell afterwards whether a photo never came or was taken away. ``named``: the hash
    that the kept bytes must have, if it is said.
    """
    demand(deed, course.operator_id, Right.REPORT)
    data, width, height = read_photo(file, named=named)
    digest = sha256(data).hexdigest()
    # Reading the picture and the history takes its time: nobody else's deed waits for it.
    act = act_owing(course.operator, digest)
    with transaction.atomic():
        arrival = replace(deed, id=uuid.uuid4(), made_at=None, signing=None)
        begin(course, arrival)
        is_new = not kept_ever(course.operator_id, [digest])
        stored = keep_photo(course.operator, data, width, height, deed=deed)
        if act and is_new:
            enter(course, "photo-arrived", {"photo": digest, "of": act}, deed=arrival, begun=True)
    return stored
