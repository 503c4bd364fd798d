"""Photos: made small and upright, all that the camera wrote beside the picture removed, kept under their hash."""

from __future__ import annotations

from io import BytesIO
from typing import Any

from django.utils.translation import gettext as _
from PIL import Image, ImageOps, UnidentifiedImageError
from pillow_heif import register_heif_opener

from accounts.deeds import Deed
from accounts.models import Operator
from courses.actions import store_bytes
from courses.models import StoredFile

register_heif_opener()

FORMATS = {"JPEG", "PNG", "WEBP", "HEIF"}
MOST_BYTES = 15 * 2**20
MOST_PIXELS = 60_000_000
LONGEST_EDGE = 1600
QUALITY = 82


class Unusable(ValueError):
    """A file that is no usable photo; the sentence says why and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def reencode(data: bytes) -> tuple[bytes, int, int]:
    """Return (JPEG bytes, width, height) of a photo: upright, at most 1600 px long, without metadata.

    Raises Unusable for anything but a JPEG, PNG, WebP or HEIC photo, for a damaged one, and for more than 15 MB or
    60 megapixels.
    """
    if len(data) > MOST_BYTES:
        raise Unusable(_("This photo is larger than 15 MB. Take it with a smaller setting."))
    try:
        with Image.open(BytesIO(data)) as image:
            if image.format not in FORMATS:
                raise Unusable(_("This is not a photo. Use JPEG, PNG, WebP or HEIC."))
            if image.width * image.height > MOST_PIXELS:
                raise Unusable(_("This photo has more than 60 megapixels. Take it with a smaller setting."))
            image.load()
            upright = ImageOps.exif_transpose(image).convert("RGB")
    except Unusable:
        raise
    except Image.DecompressionBombError:
        raise Unusable(_("This photo has more than 60 megapixels. Take it with a smaller setting.")) from None
    except UnidentifiedImageError:
        raise Unusable(_("This is not a photo. Use JPEG, PNG, WebP or HEIC.")) from None
    except (OSError, SyntaxError, ValueError, EOFError):
        raise Unusable(_("This photo is damaged. Take it again.")) from None
    upright.thumbnail((LONGEST_EDGE, LONGEST_EDGE), Image.Resampling.LANCZOS)
    out = BytesIO()
    # A fresh picture of the pixels alone: nothing of what the camera wrote beside them comes along.
    Image.frombytes("RGB", upright.size, upright.tobytes()).save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue(), upright.width, upright.height


def store_photo(operator: Operator, file: Any, *, deed: Deed) -> StoredFile:
    """Re-encode an uploaded photo and keep it. Raises Unusable."""
    if file.size > MOST_BYTES:
        raise Unusable(_("This photo is larger than 15 MB. Take it with a smaller setting."))
    data, width, height = reencode(file.read())
    stored = store_bytes(
        operator, data, kind=StoredFile.Kind.PHOTO, media_type="image/jpeg", width=width, height=height, deed=deed
    )
    if stored.erased_seq is not None:
        raise Unusable(_("This very photo was erased by a decision, entry %(seq)s.") % {"seq": stored.erased_seq})
    return stored
