"""Pages go over the wire compressed: a phone at the edge of a signal takes a whole day of them along."""

from __future__ import annotations

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware


class CompressPages(GZipMiddleware):
    """Compress HTML for whoever says that it is read so; papers, photos, tables and records go as they are.

    A page's token is masked anew in every answer and the length is blurred at random, both by Django: so much is
    needed where a secret and what somebody else typed are compressed together (BREACH; Django's documentation of
    this middleware, from memory).
    """

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        if response.streaming or not response.get("Content-Type", "").startswith("text/html"):
            return response
        return super().process_response(request, response)
