"""The keys of persons: one's own devices, a new one, and the end of one; a manager ends those of others."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from accounts import forms, policy, proof
from accounts.access import operator_for
from accounts.errors import Refused
from accounts.models import Operator, PersonKey, User
from accounts.person_keys import enrol_key, revoke_key, why_ended
from accounts.policy import Right
from ledger.errors import AlreadyRecorded

asks = require_http_methods(["GET", "HEAD", "POST"])


@sensitive_post_parameters("password")
@asks
def keys(request: HttpRequest, operator: UUID) -> HttpResponse:
    at = timezone.now()
    office = operator_for(request.user, operator, Right.READ_SETUP, at=at)
    form = forms.EnrolKeyForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        try:
            deed = proof.deed_with_password(request, data["password"], at=at, id=data["deed_id"])
            enrol_key(office, data["public"], data["proof"], deed=deed)
        except Refused as refused:
            form.refuse(refused)
        except AlreadyRecorded:
            return redirect(request.path)
        else:
            messages.success(request, _("This device signs from now on what you do here."))
            return redirect(request.path)
    timezone.activate(office.zone)
    context = {"operator": office, "form": form, "keys": _shown(office, request.user)}  # type: ignore[arg-type]
    return render(request, "accounts/keys.html", context)


@require_safe
def person_keys(request: HttpRequest, operator: UUID, person: UUID) -> HttpResponse:
    """Show the keys of somebody else to who may end them: a phone can be lost together with who had it."""
    office = operator_for(request.user, operator, Right.PEOPLE, at=timezone.now())
    somebody = get_object_or_404(User.objects.filter(roles__operator=office).distinct(), pk=person)
    timezone.activate(office.zone)
    context = {"operator": office, "person": somebody, "keys": _shown(office, somebody)}
    return render(request, "accounts/person_keys.html", context)


@asks
def end_key(request: HttpRequest, operator: UUID, key: UUID) -> HttpResponse:
    at = timezone.now()
    office = operator_for(request.user, operator, Right.READ_SETUP, at=at)
    one = get_object_or_404(PersonKey.objects.select_related("operator__log", "user"), pk=key, operator=office)
    is_own = one.user_id == request.user.pk
    if not is_own and not policy.may(request.user, office.pk, Right.PEOPLE, at=at):
        raise Http404
    back = reverse("accounts:keys", args=[office.pk])
    if not is_own:
        back = reverse("accounts:person_keys", args=[office.pk, one.user_id])
    form = forms.EndKeyForm(request.POST or None, back=back)
    if request.method == "POST" and form.is_valid():
        try:
            revoke_key(one, form.cleaned_data["why"], deed=proof.deed(request, at=at, id=form.cleaned_data["deed_id"]))
        except Refused as refused:
            form.refuse(refused)
        except AlreadyRecorded:
            return redirect(back)
        else:
            messages.success(request, _("The key was ended. What had arrived of it stands."))
            return redirect(back)
    timezone.activate(office.zone)
    named = {"key": one.key[:8], "name": one.user}
    words = {
        "title": (_("End key %(key)s?") if is_own else _("End key %(key)s of %(name)s?")) % named,
        "lead": _(
            "It signs since %(since)s and ends at once. What has arrived stands: it stays signed by this key, and the "
            "record says when and why the key ended. What waits on its device is not taken any more: its person signs "
            "it anew with another key. Whether something waits there is told under Phones; it holds its lines until "
            "then."
        )
        % {"since": date_format(timezone.localtime(one.since), "j F Y, H:i")},
        "back_label": _("Keys of my devices") if is_own else _("Keys of %(name)s") % {"name": one.user},
    }
    return render(request, "accounts/ask.html", {"operator": office, "form": form, "back": back, **words})


def _shown(operator: Operator, user: User) -> list[tuple[PersonKey, str]]:
    """Return the keys of a person, newest first, each with the words why it was ended."""
    whys = why_ended(operator)
    keys = PersonKey.objects.filter(operator=operator, user=user).order_by("-since")
    return [(one, str(forms.END_WHY.get(whys.get(one.key, ""), ""))) for one in keys]
