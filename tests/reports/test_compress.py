"""What goes over the wire: RFC 9110, 8.4 (content codings), for a page that says so in Accept-Encoding."""

from __future__ import annotations

import gzip
from types import SimpleNamespace
from typing import Any

from django.urls import reverse


def test_a_page_goes_compressed_to_whoever_reads_it_so(w: SimpleNamespace, as_one: Any) -> None:
    page = reverse("inspections:board", args=[w.course.pk])
    plain = as_one("manager").get(page)
    packed = as_one("manager").get(page, headers={"accept-encoding": "gzip, br"})

    assert "Content-Encoding" not in plain
    assert packed["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in packed["Vary"]
    assert len(packed.content) < len(plain.content) / 3
    text = gzip.decompress(packed.content).decode()
    assert "<h1" in text
    assert text.count("csrfmiddlewaretoken") == plain.content.decode().count("csrfmiddlewaretoken")


def test_papers_and_tables_go_as_they_are(w: SimpleNamespace, as_one: Any) -> None:
    for name in ("reports:stock_table", "reports:verifier"):
        answer = as_one("manager").get(reverse(name, args=[w.course.pk]), headers={"accept-encoding": "gzip"})
        assert answer.status_code == 200, name
        assert "Content-Encoding" not in answer, name
