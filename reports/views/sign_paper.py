"""A day that was signed on paper is typed in: two signatures, their time, the photo, judged as of then."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from accounts import proof
from accounts.errors import Refused
from accounts.keep import fill
from accounts.models import Role, User
from accounts.policy import Right
from courses.access import course_for
from courses.calendar import local_day
from courses.models import Course
from inspections import actions
from inspections.actions.signing import NotReady
from inspections.models import SignOff
from inspections.photos import Unusable
from inspections.picture import picture_of
from inspections.views.papers import paper_of
from ledger.actions import recorded
from ledger.errors import AlreadyRecorded
from reports.forms import PaperSignForm, field_name
from reports.signing import paper_meaning
from reports.views.sign import draw_papers, received


@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def sign_paper(request: HttpRequest, course: UUID) -> HttpResponse:
    at = timezone.now()
    where = course_for(request.user, course, Right.SIGN_OFF, at=at)
    timezone.activate(where.zone)
    deed_id = proof.deed_id_of(request)
    today = local_day(at, where.zone, where.day_change_hour)
    if request.method == "POST" and recorded(where.operator.log, deed_id) is not None:
        return received(request, where, today)
    wrong, kept = "", ""
    if request.method == "POST":
        try:
            kept = paper_of(request, where, deed=proof.deed(request, at=at, id=deed_id))
        except Unusable as unusable:
            wrong = unusable.sentence
    people = _people(where, at)
    form = fill(
        PaperSignForm(
            request.POST if request.method == "POST" else None,
            lines=picture_of(where, at=at).setup.lines,
            chosen={},
            revision=0,
            people=[(str(one.pk), one.name) for one in people.values()],
            kept=kept,
            initial={"signed_on": today},
        ),
        request,
    )
    if request.method == "POST" and form.is_valid():
        if wrong:
            form.add_error("paper_photo", wrong)
        elif (done := _sign(request, where, form, people, kept, at, deed_id)) is not None:
            return done
    context = {
        "course": where,
        "form": form,
        "rows": [(line, form[field_name(line)]) for line in form.lines],
        "meaning": paper_meaning(),
        "kept": kept,
        "back": reverse("reports:sign", args=[where.pk]),
    }
    return render(request, "reports/sign_paper.html", context)


def _people(course: Course, at: datetime) -> dict[str, User]:
    """Return everybody with a role here, by key; whether a person could sign then is asked by the action."""
    roles = Role.objects.filter(operator=course.operator_id, since__lte=at).exclude(
        kind__in=[Role.Kind.AUDITOR, Role.Kind.GUIDE]
    )
    return {str(role.user.pk): role.user for role in roles.select_related("user").order_by("user__name")}


def _sign(
    request: HttpRequest,
    course: Course,
    form: PaperSignForm,
    people: dict[str, User],
    photo: str,
    at: datetime,
    deed_id: UUID,
) -> HttpResponse | None:
    data = form.cleaned_data
    signed_at = datetime.combine(data["signed_on"], data["signed_at"], tzinfo=course.zone)
    on = local_day(signed_at, course.zone, course.day_change_hour)
    newest = SignOff.objects.filter(day__course=course, day__date=on).order_by("-revision").first()
    paper = actions.OnPaper(people[data["opened_by"]], people[data["beside"]], signed_at, photo)
    try:
        deed = proof.deed_with_password(request, data["password"], at=at, id=deed_id)
        entry = actions.sign_off(
            course,
            decisions=form.decisions(),
            meaning=paper_meaning(),
            seen_revision=newest.revision if newest else 0,
            on_paper=paper,
            deed=deed,
        )
    except NotReady as held:
        for line in form.lines:
            if str(line.pk) in held.lines:
                form.add_error(
                    field_name(line), " ".join([_("It could not be opened then."), *held.lines[str(line.pk)]])
                )
        return None
    except Refused as refused:
        form.refuse(refused)
        return None
    except AlreadyRecorded:
        return received(request, course, on)
    signed = SignOff.objects.select_related("day__course__operator__log").get(day__course=course, seq=entry.seq)
    draw_papers(request, signed, deed)
    messages.success(request, _("Typed in from paper, as entry %(seq)s.") % {"seq": entry.seq})
    return redirect("reports:day", course=course.pk, on=on)
