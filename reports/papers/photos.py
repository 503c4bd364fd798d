"""Photos on paper: small, captioned, and named by the hash of the stored file so that the full one can be found."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from io import BytesIO

from django.utils.translation import gettext as _
from PIL import Image, ImageOps
from reportlab.lib.utils import ImageReader

from reports.papers.frame import Paper
from reports.papers.style import GAP_2, MM, SMALL
from reports.papers.text import set_words

Photos = Callable[[str], bytes | None]  # None: its bytes are gone; none in it: it had not come from the phone
SIDE = 45 * MM  # the longer side at most
DOTS = 200  # per inch


def draw_photos(
    paper: Paper, hashes: Sequence[str], caption: str, photos: Photos, *, left: float, width: float
) -> None:
    """Draw photos side by side in rows, each with its caption and the beginning of its hash."""
    per_row = max(1, int((width + GAP_2) // (SIDE + GAP_2)))
    for start in range(0, len(hashes), per_row):
        found = [(sha, photos(sha)) for sha in hashes[start : start + per_row]]
        row = [(sha, _small(stored)) for sha, stored in found]
        captions = [
            set_words(_caption(caption, sha, picture is not None, stored == b""), SMALL, SIDE)
            for (sha, stored), (_sha, picture) in zip(found, row, strict=True)
        ]
        height = max(_size(picture)[1] for sha, picture in row)
        below = max(map(len, captions)) * SMALL.leading
        paper.need(height + below + 2 * GAP_2)
        paper.gap(GAP_2)
        for place, (_sha, picture) in enumerate(row):
            x, (wide, high) = left + place * (SIDE + GAP_2), _size(picture)
            if picture is None:
                paper.box(x, paper.y - high, wide, high)
            else:
                paper.canvas.drawImage(picture, x, paper.y - high, wide, high)
                paper.box(x, paper.y - high, wide, high)
            paper.lines(x, paper.y - high - 2, captions[place], SMALL.leading)
        paper.gap(height + 2 + below + GAP_2)


def _caption(caption: str, sha: str, is_here: bool, is_owed: bool) -> str:
    caption = caption if caption.endswith((".", "?", "!")) else f"{caption}."
    about = {"what": caption, "hash": sha[:12]}
    if is_here:
        return _("%(what)s Photo %(hash)s.") % about
    if is_owed:
        return _("%(what)s Photo %(hash)s is not here: it had not come from the phone.") % about
    return _("%(what)s Photo %(hash)s is not at hand.") % about


def _size(picture: ImageReader | None) -> tuple[float, float]:
    if picture is None:
        return SIDE, SIDE / 4
    wide, high = picture.getSize()
    scale = SIDE / max(wide, high)
    return wide * scale, high * scale


def _small(stored: bytes | None) -> ImageReader | None:
    """Return a stored photo made small enough for paper, or None where it is not there or cannot be read."""
    if not stored:
        return None
    pixels = round(SIDE / 72 * DOTS)
    try:
        with Image.open(BytesIO(stored)) as image:
            image.draft("RGB", (pixels * 2, pixels * 2))
            upright = ImageOps.exif_transpose(image).convert("RGB")
            upright.thumbnail((pixels, pixels))
    except OSError:
        return None
    out = BytesIO()
    upright.save(out, "JPEG", quality=82)
    out.seek(0)
    return ImageReader(out)
