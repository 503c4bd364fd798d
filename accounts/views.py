"""The pages about people: who works here, in which role, authorised for what."""

from __future__ import annotations

import logging
from collections.abc import Callable
from smtplib import SMTPException
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from accounts import actions, forms, mail, proof, queries
from accounts.access import operator_for
from accounts.errors import Refused
from accounts.keep import fill
from accounts.models import Authorisation, Operator, User
from accounts.policy import RIGHTS_OF, Right
from ledger.errors import AlreadyRecorded

log = logging.getLogger(__name__)
asks = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
def people(request: HttpRequest, operator: UUID) -> HttpResponse:
    at = timezone.now()
    office = operator_for(request.user, operator, Right.READ_PEOPLE, at=at)
    everybody = queries.people(office, at=at)
    here = [person for person in everybody if person.roles]
    gone = [person for person in everybody if not person.roles]
    return render(request, "accounts/people.html", {"operator": office, "here": here, "gone": gone})


@require_safe
def person(request: HttpRequest, operator: UUID, person: UUID) -> HttpResponse:
    at = timezone.now()
    office = operator_for(request.user, operator, Right.READ_PEOPLE, at=at)
    somebody = _somebody(office, person)
    seen = queries.people(office, at=at, only=somebody.pk)[0]
    can_inspect = any(Right.INSPECT in RIGHTS_OF[held.role.kind] for held in seen.roles)
    context = {"operator": office, "person": seen, "can_inspect": can_inspect, "is_self": somebody == request.user}
    return render(request, "accounts/person.html", context)


@sensitive_post_parameters("password")
@asks
def invite(request: HttpRequest, operator: UUID) -> HttpResponse:
    at = timezone.now()
    office = operator_for(request.user, operator, Right.PEOPLE, at=at)
    back = reverse("accounts:people", args=[office.pk])
    form = fill(forms.InviteForm(request.POST or None, back=back), request)

    def do(data: dict[str, Any]) -> str:
        deed = proof.deed_with_password(request, data["password"], at=at, id=data["deed_id"])
        user = actions.invite(office, data["email"], data["name"], data["roles"], deed=deed)
        _send(request, office, user)
        return reverse("accounts:person", args=[office.pk, user.pk])

    return _ask(request, form, do, office, back=back, back_label=_("People"), title=_("Invite somebody"))


@sensitive_post_parameters("password")
@asks
def give_role(request: HttpRequest, operator: UUID, person: UUID) -> HttpResponse:
    at = timezone.now()
    office = operator_for(request.user, operator, Right.PEOPLE, at=at)
    user = _somebody(office, person)
    back = reverse("accounts:person", args=[office.pk, user.pk])
    held = frozenset(held.role.kind for held in queries.people(office, at=at, only=user.pk)[0].roles)
    form = fill(forms.GiveRoleForm(request.POST or None, held=held, back=back), request)

    def do(data: dict[str, Any]) -> str:
        deed = proof.deed_with_password(request, data["password"], at=at, id=data["deed_id"])
        until = office.end_of(data["last_day"]) if data["last_day"] else None
        actions.give_role(office, user, data["kind"], until=until, deed=deed)
        messages.success(request, _("The role was given."))
        return back

    title = _("Give %(name)s a role") % {"name": user}
    return _ask(request, form, do, office, back=back, back_label=user.name, title=title)


@asks
def take_role(request: HttpRequest, operator: UUID, person: UUID, role: UUID) -> HttpResponse:
    at = timezone.now()
    office = operator_for(request.user, operator, Right.PEOPLE, at=at)
    user = _somebody(office, person)
    held = get_object_or_404(user.roles.filter(operator=office), pk=role)
    back = reverse("accounts:person", args=[office.pk, user.pk])
    form = fill(forms.TakeRoleForm(request.POST if request.method == "POST" else None, back=back), request)

    def do(data: dict[str, Any]) -> str:
        actions.take_role(office, user, held.kind, deed=proof.deed(request, at=at, id=data["deed_id"]))
        messages.success(request, _("The role was taken away."))
        return back

    title = _("Take the role %(role)s away from %(name)s?") % {"role": held.get_kind_display(), "name": user}
    lead = _("It ends at once. With the last role that inspects, the authorisations end too.")
    return _ask(request, form, do, office, back=back, back_label=user.name, title=title, lead=lead)


@sensitive_post_parameters("password")
@asks
def authorise(request: HttpRequest, operator: UUID, person: UUID) -> HttpResponse:
    at = timezone.now()
    office = operator_for(request.user, operator, Right.PEOPLE, at=at)
    user = _somebody(office, person)
    back = reverse("accounts:person", args=[office.pk, user.pk])
    form = fill(forms.AuthoriseForm(request.POST or None, back=back), request)

    def do(data: dict[str, Any]) -> str:
        deed = proof.deed_with_password(request, data["password"], at=at, id=data["deed_id"])
        actions.authorise(office, user, data["subject"], data["last_day"], deed=deed)
        messages.success(request, _("The authorisation was given."))
        return back

    title = _("Authorise %(name)s") % {"name": user}
    lead = _("Only for what the person was trained for, and can show: the record of the training stays with you.")
    return _ask(request, form, do, office, back=back, back_label=user.name, title=title, lead=lead)


@asks
def end_authorisation(request: HttpRequest, operator: UUID, person: UUID, authorisation: UUID) -> HttpResponse:
    at = timezone.now()
    office = operator_for(request.user, operator, Right.PEOPLE, at=at)
    user = _somebody(office, person)
    granted = get_object_or_404(
        Authorisation.objects.select_related("operator__log", "user"), pk=authorisation, operator=office, user=user
    )
    back = reverse("accounts:person", args=[office.pk, user.pk])
    form = fill(forms.EndAuthorisationForm(request.POST if request.method == "POST" else None, back=back), request)

    def do(data: dict[str, Any]) -> str:
        actions.end_authorisation(granted, deed=proof.deed(request, at=at, id=data["deed_id"]))
        messages.success(request, _("The authorisation was ended."))
        return back

    title = _("End the authorisation of %(name)s?") % {"name": user}
    lead = _("For %(subject)s. It ends at once.") % {"subject": granted.get_subject_display()}
    return _ask(request, form, do, office, back=back, back_label=user.name, title=title, lead=lead)


@asks
def send_invitation(request: HttpRequest, operator: UUID, person: UUID) -> HttpResponse:
    at = timezone.now()
    office = operator_for(request.user, operator, Right.PEOPLE, at=at)
    user = _somebody(office, person)
    if user.has_usable_password():
        raise Http404
    back = reverse("accounts:person", args=[office.pk, user.pk])
    form = fill(forms.SendInvitationForm(request.POST if request.method == "POST" else None, back=back), request)

    def do(data: dict[str, Any]) -> str:
        _send(request, office, user)
        return back

    title = _("Send %(name)s the invitation again?") % {"name": user}
    lead = _("It goes to %(email)s. Links of earlier mails stay good until they run out.") % {"email": user.email}
    return _ask(request, form, do, office, back=back, back_label=user.name, title=title, lead=lead)


def _somebody(operator: Operator, pk: UUID) -> User:
    """Return somebody who has or had a role here; everybody else is a stranger to this operator."""
    return get_object_or_404(User.objects.filter(roles__operator=operator).distinct(), pk=pk)


def _send(request: HttpRequest, operator: Operator, user: User) -> None:
    # The invitation stands in the history by now: a mail that does not go out is said, not undone.
    try:
        mail.send_invitation(request, operator, user)
    except (SMTPException, OSError):
        log.exception("The invitation was not mailed.")
        messages.error(request, _("The mail could not be sent. Try again from this page."))
    else:
        messages.success(request, _("The invitation was sent to %(email)s.") % {"email": user.email})


def _ask(
    request: HttpRequest, form: forms.DeedForm, do: Callable[[dict[str, Any]], str], operator: Operator, *,
    back: str, **words: str,
) -> HttpResponse:  # fmt: skip
    """Show a form of one deed, or do the deed and go on; a refusal is said in the form, a repetition is no fault."""
    if request.method == "POST" and form.is_valid():
        try:
            return redirect(do(form.cleaned_data))
        except Refused as refused:
            form.refuse(refused)
        except AlreadyRecorded:
            messages.info(request, _("This was received already."))
            return redirect(back)
    return render(request, "accounts/ask.html", {"operator": operator, "form": form, "back": back, **words})
