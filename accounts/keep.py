"""Nothing that was typed is lost because a log-in ran out while it was typed.

A form carries, by ``{% load keep %}{% who %}`` beside ``{% csrf_token %}``, who it was shown to (signed) and on which
page. When it comes back after the log-in ran out, or with a token that a newer log-in made stale, or under somebody
else's log-in, its fields are kept in the shared cache for twelve hours. What finds them again is a random token in a
cookie of its own: the session's data does not outlive a log-in of another person. Only the person the form was shown
to gets the fields back: on the page of the form ``request.kept`` is set, ``fill(form, request)`` puts them in, and a
sentence says so. They are dropped once the same form is taken.

Passwords are never kept: a field for anything secret has ``password``, ``secret``, ``pin`` or ``otp`` in its name.
Files are not kept either, and the sentence says so where there were any.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

from django import forms
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.views import redirect_to_login
from django.core import signing
from django.core.cache import cache
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse, QueryDict
from django.middleware.csrf import REASON_NO_CSRF_COOKIE
from django.shortcuts import render
from django.urls import reverse
from django.utils.cache import patch_cache_control
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

WHO, PAGE = "_who", "_page"
COOKIE = "lineworthy_unsent"
SECONDS = 12 * 3600
MOST = 6  # forms kept for one browser

_SECRET = re.compile(r"pass(word|phrase|code)|secret|(^|[-_])(pin|otp)\d?$", re.IGNORECASE)
# With the seed of a deed's salts a salt that was erased could be made again (ledger.actions.salted_by).
_NOT_CONTENT = {WHO, PAGE, "csrfmiddlewaretoken", "_seed"}
_signer = signing.Signer(salt="accounts.keep")

STALE = gettext_lazy(
    "This was not saved yet, because your log-in had run out or changed in the meantime. What you typed stands here "
    "again: check it and send it once more."
)
FILES = gettext_lazy("Photos and other files have to be chosen again.")

F = TypeVar("F", bound=forms.BaseForm)


@dataclass(frozen=True)
class Kept:
    """What was typed into one form: posted to ``action``, from ``page``."""

    who: str
    action: str
    page: str
    fields: QueryDict
    had_files: bool


def signed(ref: str) -> str:
    """Return what a form carries to say whom it was shown to."""
    return _signer.sign(ref)


def fill(form: F, request: HttpRequest, *, action: str | None = None) -> F:
    """Put the kept fields into an unbound form and return it; other requests leave it as it is.

    ``action`` is the path the form is posted to, where that is not the page's own.
    """
    kept: Kept | None = getattr(request, "kept", None)
    if kept is None or form.is_bound or kept.action != (action or request.path):
        return form
    form.initial = {**form.initial}
    for name, field in form.fields.items():
        key, widget = form.add_prefix(name), field.widget
        if isinstance(widget, forms.PasswordInput) or widget.needs_multipart_form:
            continue
        if not widget.value_omitted_from_data(kept.fields, {}, key):  # type: ignore[arg-type]
            form.initial[name] = widget.value_from_datadict(kept.fields, {}, key)  # type: ignore[arg-type]
    return form


class KeepExpiredPostMiddleware:
    """Stands behind the log-in and before the demand for one; see the head of this module."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: Any) -> HttpResponse:
        request.kept = None
        request.was_kept = False
        response = self.get_response(request)
        if request.kept is not None:
            patch_cache_control(response, private=True, no_store=True)
        # A script that keeps one field of a sheet has not sent the form.
        if request.method == "POST" and not request.was_kept and response.status_code < 400 and not wants_json(request):
            _drop(request)
        return response

    def process_view(
        self, request: Any, view: Callable[..., Any], args: tuple[Any, ...], kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        if not getattr(view, "login_required", True):
            return None
        if not request.user.is_authenticated:
            if wants_json(request):
                return _answer(request)
            return _keep_and_log_in(request) if request.method == "POST" else None
        if request.method == "POST":
            who = _who(request)
            if who and who != request.user.ref:
                return _answer(request) if wants_json(request) else _not_yours(request)
        elif request.method == "GET":
            _offer(request)
        return None


def csrf_failure(request: Any, reason: str = "") -> HttpResponse:
    """Answer a post whose token does not fit: mostly a page that was open while somebody logged in elsewhere."""
    if reason.startswith(("Origin checking failed", "Referer checking failed")):
        return _refused(request, _("The form was sent from another site. Nothing was saved."))
    if wants_json(request):
        return _answer(request)
    who = _who(request)
    if who and not request.user.is_authenticated:
        return _keep_and_log_in(request)
    if who and who != request.user.ref:
        return _not_yours(request)
    if who:
        return _kept_at(request, HttpResponseRedirect(_page(request)))
    if reason == REASON_NO_CSRF_COOKIE:
        return _refused(request, _("This browser sent no cookie. Allow cookies for this site, then try again."))
    if request.path.startswith(reverse("account_login").removesuffix("login/")):
        messages.warning(request, _("This page had been open for too long. Please try once more."))
        return HttpResponseRedirect(request.get_full_path())
    return _refused(request, _("This page had been open for too long. Nothing was saved."))


def wants_json(request: HttpRequest) -> bool:
    """Tell a script's request from a page's."""
    if request.content_type == "application/json":
        return True
    return request.get_preferred_type(["text/html", "application/json"]) == "application/json"


def waiting_page(request: Any) -> str | None:
    """Return the page of a form that this person has not sent yet, if this browser keeps one."""
    for kept in _all_kept(request).values():
        if kept.who == request.user.ref:
            return kept.page
    return None


def _who(request: HttpRequest) -> str:
    value = request.POST.get(WHO) or request.headers.get("X-Lineworthy-Who", "")
    try:
        return _signer.unsign(value)
    except signing.BadSignature:
        return ""


def _page(request: HttpRequest) -> str:
    page = request.POST.get(PAGE, "")
    if page.startswith("/") and url_has_allowed_host_and_scheme(page, allowed_hosts=None):
        return page
    return request.get_full_path()


def _answer(request: HttpRequest) -> JsonResponse:
    """Tell a script that a log-in is needed first; what it holds is its own to keep."""
    return JsonResponse({"login": redirect_to_login(_page(request), reverse("account_login")).url}, status=401)


def _keep_and_log_in(request: Any) -> HttpResponse:
    response = redirect_to_login(_page(request), reverse("account_login"))
    if not _who(request):
        messages.warning(request, _("Your log-in had run out, and nothing was saved. Log in and try once more."))
        return response
    messages.warning(
        request, _("Your log-in had run out. Nothing is lost: log in, and what you typed stands there again.")
    )
    return _kept_at(request, response)


def _not_yours(request: Any) -> HttpResponse:
    sentence = _(
        "This page had been opened by somebody else, and you are logged in now. Nothing was saved. What was typed is "
        "kept here for twelve hours, and only for that person."
    )
    return _kept_at(request, _refused(request, sentence, status=409))


def _refused(request: HttpRequest, sentence: str, *, status: int = 403) -> HttpResponse:
    return render(request, "accounts/not_taken.html", {"sentence": sentence}, status=status)


def _kept_at(request: Any, response: HttpResponse) -> HttpResponse:
    """Keep the fields of this post and give the browser what finds them again."""
    fields = request.POST.copy()
    for name in list(fields):
        if name in _NOT_CONTENT or _SECRET.search(name):
            del fields[name]
    token = secrets.token_urlsafe(24)
    value = {
        "who": _who(request), "action": request.path, "page": _page(request), "fields": fields.urlencode(),
        "had_files": bool(request.FILES),
    }  # fmt: skip
    cache.set(_key(token), value, SECONDS)
    request.was_kept = True
    response.set_cookie(
        COOKIE, ".".join([token, *_tokens(request)][:MOST]), max_age=SECONDS, httponly=True, samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )  # fmt: skip
    return response


def _offer(request: Any) -> None:
    """Set ``request.kept`` on the page of a form that its person has not sent yet."""
    here = request.get_full_path()
    for kept in _all_kept(request).values():
        if kept.who == request.user.ref and kept.page == here:
            request.kept = kept
            messages.warning(request, f"{STALE} {FILES}" if kept.had_files else STALE)
            return


def _drop(request: Any) -> None:
    for token, kept in _all_kept(request).items():
        if kept.action == request.path and request.user.is_authenticated and kept.who == request.user.ref:
            cache.delete(_key(token))


def _all_kept(request: HttpRequest) -> dict[str, Kept]:
    tokens = _tokens(request)
    if not tokens:
        return {}
    found = cache.get_many([_key(token) for token in tokens])
    return {
        token: Kept(**{**found[_key(token)], "fields": QueryDict(found[_key(token)]["fields"])})
        for token in tokens
        if _key(token) in found
    }


def _tokens(request: HttpRequest) -> list[str]:
    parts = request.COOKIES.get(COOKIE, "").split(".")
    return [part for part in parts if re.fullmatch(r"[\w-]{32}", part)][:MOST]


def _key(token: str) -> str:
    return f"kept:{token}"
