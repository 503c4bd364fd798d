"""A drawn paper as PDF/A-3b (ISO 19005-3), with files attached to it: what lasts, and passes a check or is refused.

Checked by pikepdf's ``pdfa``, whose rules come from the profiles of veraPDF; it may deny what is good, and approves
only what it knows. The standard itself was not read. The same paper, files and time give the same bytes.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from typing import Any

LEVEL = "3b"
_NOTED = re.compile(rb"(<xmp:MetadataDate>)[^<]*(<)")


class NotArchivable(ValueError):
    """The paper did not become PDF/A; the message names the rules that it breaks."""


@dataclass(frozen=True)
class Attached:
    """A file to be attached. ``relation`` is one of PDF/A-3: Source (the paper is made of it), Data, Supplement."""

    name: str
    content: bytes
    media_type: str
    about: str
    relation: str = "Source"


def archived(pdf: bytes, files: Sequence[Attached], *, at: datetime) -> bytes:
    """Return a paper as PDF/A-3b with files attached. Raises NotArchivable if what was written does not pass."""
    import pikepdf  # 0.2 s: only who draws a day sheet waits for it
    from pikepdf import pdfa

    try:
        with pikepdf.open(BytesIO(pdf)) as paper:
            return _written(paper, files, at)
    except pdfa.PdfaError as error:
        raise NotArchivable("; ".join(str(finding) for finding in error.report.findings) or str(error)) from error
    except Exception as error:
        # Whatever the library stumbles over: the day sheet is kept without it, and it is told.
        raise NotArchivable(f"{type(error).__name__}: {error}") from error


def _written(paper: Any, files: Sequence[Attached], at: datetime) -> bytes:
    import pikepdf
    from pikepdf import pdfa

    for page in paper.pages:
        # reportlab leaves an empty transition on every page; PDF/A knows none.
        if "/Trans" in page and not page.Trans:
            del page["/Trans"]
    for file in files:
        paper.attachments[file.name] = pikepdf.AttachedFileSpec(
            paper, file.content, filename=file.name, description=file.about, mime_type=file.media_type,
            relationship=pikepdf.Name(f"/{file.relation}"),
        )  # fmt: skip
    pdfa.prepare(paper, LEVEL)
    # The library notes the time by its own clock; the paper is of the time of the deed.
    written = at.astimezone(UTC).replace(microsecond=0).isoformat().encode()
    about = paper.Root.Metadata
    about.write(_NOTED.sub(rb"\g<1>" + written + rb"\g<2>", about.read_bytes()))
    out = BytesIO()
    pdfa.save(paper, out, LEVEL, repair=False, deterministic_id=True)
    return out.getvalue()
