"""Addresses of the set-up, and forms filled in as a browser does, for the tests of its pages."""

from collections.abc import Callable
from typing import Any

from django.test import Client
from django.urls import reverse

from courses.models import Course

As = Callable[[str], Client]
PDF = b"%PDF-1.7 drawing of the designer"


def path(name: str, course: Course, *more: Any) -> str:
    return reverse(f"courses:{name}", args=[course.pk, *(getattr(item, "pk", item) for item in more)])


def text(response: Any) -> str:
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def filled(client: Client, address: str, **changes: Any) -> dict[str, Any]:
    """Return what the form on a page would send, with some fields filled in otherwise."""
    form = client.get(address).context["form"]
    data = {}
    for bound in form:
        value = bound.value()
        if value not in (None, "", [], False):
            data[bound.html_name] = [str(one) for one in value] if isinstance(value, list) else str(value)
    return {**data, **changes}


def look(client: Client, address: str, **changes: Any) -> tuple[Any, dict[str, Any]]:
    """Send a form for a look and return the answer, and what the second sending would be."""
    data = filled(client, address, **changes)
    response = client.post(address, data)
    form = response.context["form"]
    again = {name: value for name, value in data.items() if name != "source_file"}
    return response, again | {"seen": form["seen"].value(), "stored": form["stored"].value()}
