"""Photos: made small and upright, all that the camera wrote beside the picture removed, kept under their hash."""

from __future__ import annotations

import re
from hashlib import sha256
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
APP0, START_OF_SCAN = 0xE0, 0xDA
# JFIF's own segment, quantization and Huffman tables, sequential frames, the restart interval.
NEEDED = frozenset({APP0, 0xDB, 0xC4, 0xC0, 0xC1, 0xDD})
JFIF_ALONE = 16  # the length of JFIF's segment without a small second picture
# In the coded picture FF stands before 00 or a restart; anything else would be a further segment.
CODED = re.compile(rb"(?:[^\xff]|\xff[\x00\xd0-\xd7])*+\xff\xd9", re.DOTALL)


class Unusable(ValueError):
    """A file that is no usable photo; the sentence says why and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def is_bare(data: bytes) -> bool:
    """Tell whether a file is a JPEG of one scan with nothing in it beside the picture.

    Of the segments of ITU-T T.81 (from memory) only those that the picture needs, and the one that says it is JFIF.
    """
    if not data.startswith(b"\xff\xd8"):
        return False
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        kind, length = data[at + 1], int.from_bytes(data[at + 2 : at + 4], "big")
        at += 2 + length
        if kind == START_OF_SCAN:
            return CODED.fullmatch(data, at) is not None
        if kind not in NEEDED or (kind == APP0 and length != JFIF_ALONE):
            return False
    return False


def reencode(data: bytes) -> tuple[bytes, int, int]:
    """Return (JPEG bytes, width, height) of a photo: upright, at most 1600 px long, without metadata.

    Raises Unusable for anything but a JPEG, PNG, WebP or HEIC photo, for a damaged one, and for more than 15 MB or
    60 megapixels. A phone that signed without a signal has named the hash of what it made so itself: a photo that is
    so already stays as it is, byte for byte.
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
            if image.format == "JPEG" and max(image.size) <= LONGEST_EDGE and is_bare(data):
                return data, image.width, image.height
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
    return keep_photo(operator, *read_photo(file), deed=deed)


def read_photo(file: Any, *, named: str = "") -> tuple[bytes, int, int]:
    """Return an uploaded photo as ``reencode`` does. Raises Unusable.

    ``named``: the hash that the kept bytes must have, of a photo that was signed before.
    """
    if file.size > MOST_BYTES:
        raise Unusable(_("This photo is larger than 15 MB. Take it with a smaller setting."))
    data, width, height = reencode(file.read())
    if named and sha256(data).hexdigest() != named:
        raise Unusable(_("This is not the photo that was signed. Take it again and add it to what it is about."))
    return data, width, height


def keep_photo(operator: Operator, data: bytes, width: int, height: int, *, deed: Deed) -> StoredFile:
    """Keep a photo that was read. Raises Unusable where this very one was erased by a decision."""
    stored = store_bytes(
        operator, data, kind=StoredFile.Kind.PHOTO, media_type="image/jpeg", width=width, height=height, deed=deed
    )
    if stored.erased_seq is not None:
        raise Unusable(_("This very photo was erased by a decision, entry %(seq)s.") % {"seq": stored.erased_seq})
    return stored
