"""What a browser asks for by itself: the worker that keeps pages, the page for no signal, the manifest of the app."""

from __future__ import annotations

import json
from functools import lru_cache
from hashlib import sha256

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

# The files without which no page can be drawn; what else a kept page names is kept along with it.
SHELL = (
    "css/app.css",
    "css/parts.css",
    "css/forms.css",
    "css/kept.css",
    "fonts/hyperlegible-latin.woff2",
    "img/icon.svg",
    "img/shapes.svg",
    "js/app.mjs",
    "js/covered.js",
    "js/lock.mjs",
    "js/pages.mjs",
    "js/no_signal.mjs",
)
PAPER = "#fdfcf7"  # as base.html has it


@login_not_required
@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """Give the worker from the root, since it may serve no page above its own address.

    Any change of a file of the shell, of the worker or of the page for no signal changes these few bytes, by which a
    browser sees that there is a newer one.
    """
    config = {
        "version": _version(get_language() or ""),
        "shell": [static(name) for name in SHELL],
        "page": reverse("inspections:no_signal"),
        "statics": settings.STATIC_URL,
        "logout": reverse("account_logout"),
        "logins": [reverse("account_login"), reverse("account_reset_password"), reverse("admin:login")],
    }
    text = f'import {{ serve }} from "{static("js/worker.mjs")}";\n\nserve({json.dumps(config, indent=2)});\n'
    return HttpResponse(text, content_type="text/javascript; charset=utf-8", headers={"Cache-Control": "no-cache"})


@lru_cache(maxsize=None if not settings.DEBUG else 0)
def _version(language: str) -> str:
    names = [static(name) for name in (*SHELL, "js/worker.mjs")]
    page = render_to_string("inspections/no_signal.html")
    return sha256("\n".join([language, *names, page]).encode()).hexdigest()[:16]


@login_not_required
@require_safe
def no_signal(request: HttpRequest) -> HttpResponse:
    """Show what is left where a page is not on the phone. Kept by the worker; nobody's, so without a name on it."""
    response = render(request, "inspections/no_signal.html")
    response["Cache-Control"] = "no-cache"
    return response


@login_not_required
@require_safe
def manifest(request: HttpRequest) -> JsonResponse:
    """Say how it stands among the apps of a phone (W3C, Web Application Manifest)."""

    def icon(name: str, size: int, purpose: str = "any") -> dict[str, str]:
        return {"src": static(f"img/{name}.png"), "sizes": f"{size}x{size}", "type": "image/png", "purpose": purpose}

    content = {
        "id": "/",
        "name": "Lineworthy",
        "short_name": "Lineworthy",
        "description": _("The daily inspection of zip lines."),
        "lang": get_language(),
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": PAPER,
        "theme_color": PAPER,
        "icons": [
            {"src": static("img/icon.svg"), "sizes": "any", "type": "image/svg+xml", "purpose": "any"},
            icon("icon-192", 192),
            icon("icon-512", 512),
            icon("icon-maskable-512", 512, "maskable"),
        ],
    }
    return JsonResponse(content, content_type="application/manifest+json", headers={"Cache-Control": "no-cache"})
