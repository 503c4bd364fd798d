"""What can be forgotten: what is asked for and was decided, to ask, to confirm as the second person, to withdraw."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from accounts import policy, proof
from accounts.keep import fill
from accounts.policy import Right
from courses.access import course_for
from courses.models import Course
from inspections import actions
from inspections.actions.erasing import asked_for
from inspections.terms import kept, term
from inspections.views.asking import ask as ask_page
from ledger.erasures import HASH, PERSON, Asking, two_decide
from reports.access import history_of
from reports.erasing_forms import AskForm, AskPersonForm, ConfirmForm, WithdrawForm
from reports.erasures import ONE, in_words, lost, people_to_forget, rows

asks = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
def erasures(request: HttpRequest, course: UUID) -> HttpResponse:
    where = history_of(request.user, course, at=timezone.now())
    return render(
        request, "reports/erasures.html", {"course": where, "rows": rows(where.operator), "term": term(where.operator)}
    )


@sensitive_post_parameters("password")
@asks
def ask_person(request: HttpRequest, course: UUID) -> HttpResponse:
    """Choose somebody who has gone; ``?person=REF`` chooses beforehand."""
    at = timezone.now()
    where = _course(request, course, at)
    found = people_to_forget(where.operator, at=at)
    back = reverse("reports:erasures", args=[where.pk])
    form = AskPersonForm(
        request.POST if request.method == "POST" else None,
        people=[(ref, words) for ref, words, _over in found],
        initial={"person": request.GET.get("person", "")},
        back=back,
    )

    def do(data: dict[str, Any]) -> str:
        return _asked(request, where, {PERSON: data["person"]}, data, at)

    context = {"course": where, "title": _("Ask that a name be erased"), "people": found, "term": term(where.operator)}
    return ask_page(request, fill(form, request), do, back=back, template="reports/erasure_ask.html", context=context)


@sensitive_post_parameters("password")
@asks
def ask_one(request: HttpRequest, course: UUID, what: str, digest: str) -> HttpResponse:
    """Ask for one note, photo or paper."""
    at = timezone.now()
    where = _course(request, course, at)
    if what not in ONE or not HASH.fullmatch(digest):
        raise Http404
    wanted = {ONE[what]: [digest]}
    refusal = kept(where.operator, wanted, at=at)
    if refusal is not None and refusal.code == "no-such-thing":
        raise Http404
    back = reverse("reports:erasures", args=[where.pk])
    form = AskForm(request.POST if request.method == "POST" else None, back=back)

    def do(data: dict[str, Any]) -> str:
        return _asked(request, where, wanted, data, at)

    titles = {
        "note": _("Ask that a note be erased"),
        "photo": _("Ask that a photo be erased"),
        "paper": _("Ask that a paper be erased"),
    }
    context = {
        "course": where,
        "title": titles[what],
        "lost": lost(where, wanted),
        "refusal": refusal,
        "term": term(where.operator),
    }
    return ask_page(request, fill(form, request), do, back=back, template="reports/erasure_ask.html", context=context)


@sensitive_post_parameters("password")
@asks
def confirm(request: HttpRequest, course: UUID, seq: int) -> HttpResponse:
    """See what is lost, and confirm it as another person in the other role."""
    at = timezone.now()
    where = _course(request, course, at)
    one = _asking(where, seq)
    back = reverse("reports:erasures", args=[where.pk])
    form = ConfirmForm(request.POST if request.method == "POST" else None, back=back)

    def do(data: dict[str, Any]) -> str:
        deed = proof.deed_with_password(request, data["password"], at=at, id=data["deed_id"])
        entry = actions.erase(where.operator, one.seq, deed=deed)
        messages.success(request, _("It was erased, by entry %(seq)s.") % {"seq": entry.seq})
        return back

    context = {
        "course": where, "title": in_words(one.what), "lost": lost(where, one.what), "seq": seq, "is_open": one.is_open,
        "hindrance": _hindrance(request, where, one, at), "term": term(where.operator),
    }  # fmt: skip
    return ask_page(request, fill(form, request), do, back=back, template="reports/erasure.html", context=context)


@sensitive_post_parameters("password")
@asks
def withdraw(request: HttpRequest, course: UUID, seq: int) -> HttpResponse:
    at = timezone.now()
    where = _course(request, course, at)
    one = _asking(where, seq)
    back = reverse("reports:erasures", args=[where.pk])
    form = WithdrawForm(request.POST if request.method == "POST" else None, back=back)

    def do(data: dict[str, Any]) -> str:
        deed = proof.deed_with_password(request, data["password"], at=at, id=data["deed_id"])
        actions.withdraw_asking(where.operator, one.seq, deed=deed)
        messages.success(request, _("It is not asked for any more. Nothing was erased."))
        return back

    context = {
        "course": where, "title": _("Withdraw what was asked for?"),
        "lead": _("%(what)s. Nothing is erased by it; it can be asked for again.") % {"what": in_words(one.what)},
    }  # fmt: skip
    return ask_page(request, fill(form, request), do, back=back, context=context)


def _course(request: HttpRequest, course: UUID, at: Any) -> Course:
    where = course_for(request.user, course, Right.FORGET, at=at)
    timezone.activate(where.zone)
    return where


def _asking(where: Course, seq: int) -> Asking:
    one = next((one for one in asked_for(where.operator.log) if one.seq == seq), None)
    if one is None:
        raise Http404
    return one


def _asked(request: HttpRequest, where: Course, what: dict[str, Any], data: dict[str, Any], at: Any) -> str:
    deed = proof.deed_with_password(request, data["password"], at=at, id=data["deed_id"])
    actions.ask_erasure(where.operator, what, grounds=data["grounds"], reason=data["reason"], deed=deed)
    messages.success(request, _("It is asked for. Nothing is erased until a second person has confirmed it."))
    return reverse("reports:erasures", args=[where.pk])


def _hindrance(request: HttpRequest, where: Course, one: Asking, at: Any) -> str:
    """Return why this person cannot confirm it, empty if nothing is in the way."""
    if not one.is_open:
        return _("This was decided or withdrawn already.")
    if one.ref == request.user.ref:  # type: ignore[union-attr]
        return _("You asked for it. Somebody else has to confirm it.")
    if not two_decide(one.roles, policy.roles_of(request.user, where.operator_id, at=at)):
        return _("A manager and an engineer decide this together. Somebody of the other role has to confirm it.")
    refusal = kept(where.operator, one.what, at=at)
    return refusal.sentence if refusal is not None else ""
