"""The keys of the person logged in: which devices sign, a new one, and the end of one."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from accounts import forms, proof
from accounts.access import operator_for
from accounts.errors import Refused
from accounts.models import PersonKey
from accounts.person_keys import enrol_key, revoke_key
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
    own = PersonKey.objects.filter(operator=office, user=request.user).order_by("-since")  # type: ignore[misc]
    timezone.activate(office.zone)
    context = {"operator": office, "form": form, "keys": list(own)}
    return render(request, "accounts/keys.html", context)


@asks
def end_key(request: HttpRequest, operator: UUID, key: UUID) -> HttpResponse:
    at = timezone.now()
    office = operator_for(request.user, operator, Right.READ_SETUP, at=at)
    one = get_object_or_404(
        PersonKey.objects.select_related("operator__log", "user").filter(user=request.user),  # type: ignore[misc]
        pk=key, operator=office,
    )  # fmt: skip
    back = reverse("accounts:keys", args=[office.pk])
    form = forms.EndKeyForm(request.POST or None, back=back)
    if request.method == "POST" and form.is_valid():
        try:
            revoke_key(one, form.cleaned_data["why"], deed=proof.deed(request, at=at, id=form.cleaned_data["deed_id"]))
        except Refused as refused:
            form.refuse(refused)
        except AlreadyRecorded:
            return redirect(back)
        else:
            messages.success(request, _("The key was ended. What it signed before stands."))
            return redirect(back)
    words = {
        "title": _("End this key?"),
        "lead": _("It ends at once. What it signed before stands, and says so for ever."),
        "back_label": _("Keys of my devices"),
    }
    return render(request, "accounts/ask.html", {"operator": office, "form": form, "back": back, **words})
