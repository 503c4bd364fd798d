"""Is this person authorised today for what this sheet is about? Asked before the first field and again at signing."""

from __future__ import annotations

from datetime import date

from django.utils.translation import gettext as _

from accounts.models import Authorisation, User
from courses.models import Course, Place
from courses.queries import Setup
from inspections.errors import Refused
from inspections.picture import RACK


def subjects_of(setup: Setup, place: Place, section: str) -> set[str]:
    """Return what one must be authorised for; empty where any authorisation will do."""
    if section.startswith(RACK) or section == "rescue":
        return {"gear"}
    if section in {"landing", "ride"}:
        return {brake["kind"] for brake in setup.document(place).get("brakes", ()) if brake.get("kind")}
    return set()


def demand_authority(person: User, course: Course, setup: Setup, place: Place, section: str, on: date) -> None:
    """Refuse a person who is not authorised for this sheet on this day."""
    held = {
        subject
        for subject, since, until in Authorisation.objects.filter(
            operator=course.operator_id, user=person, ended_at__isnull=True
        ).values_list("subject", "since", "until")
        if since <= on <= until
    }
    if "any" in held:
        return
    lacking = subjects_of(setup, place, section) - held
    if not held or lacking:
        names = ", ".join(str(dict(Authorisation.Subject.choices).get(one, one)) for one in sorted(lacking))
        raise Refused(
            "not-authorised",
            _("You are not authorised today for this sheet%(what)s. A manager can authorise you under People.")
            % {"what": f" ({names})" if names else ""},
        )
