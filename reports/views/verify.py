"""The page that checks a bundle in the browser, for whoever holds one: without a log-in, and nothing is sent here."""

from __future__ import annotations

from hashlib import sha256

from csp.constants import NONE
from csp.decorators import csp_replace
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from reports.bundle import program

# The browser itself refuses to send anything from this page.
SILENT = {"connect-src": [NONE], "form-action": [NONE], "worker-src": [NONE], "manifest-src": [NONE]}


@login_not_required
@require_safe
@csp_replace(SILENT)
def verify(request: HttpRequest) -> HttpResponse:
    """Show the page; what it does is in ``static/js/verify/``."""
    return render(request, "reports/verify.html", {"program": sha256(program()).hexdigest()})


@login_not_required
@require_safe
def verify_program(request: HttpRequest) -> HttpResponse:
    """Hand out the program to who has no account either; it holds nothing of anybody."""
    response = HttpResponse(program(), content_type="text/x-python; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="verify.py"'
    response["X-Content-Type-Options"] = "nosniff"
    return response
