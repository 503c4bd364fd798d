"""Photos as cameras make them: small and upright afterwards, and nothing of where they were taken.

Tag numbers of position and orientation: Exif 2.32, GPSInfo 0x8825 and Orientation 0x0112; from memory.
"""

from io import BytesIO

import pytest
from PIL import Image

from inspections.photos import LONGEST_EDGE, MOST_BYTES, Unusable, reencode

GPS, ORIENTATION, MAKER = 0x8825, 0x0112, 0x010F


def jpeg(size: tuple[int, int] = (64, 48), *, kind: str = "JPEG", exif: Image.Exif | None = None) -> bytes:
    image = Image.new("RGB", size, "#335577")
    image.paste("#ffffff", (0, 0, size[0] // 2, size[1] // 2))  # the upper left is white
    out = BytesIO()
    image.save(out, kind, **({"exif": exif} if exif else {}))
    return out.getvalue()


def opened(data: bytes) -> Image.Image:
    image = Image.open(BytesIO(data))
    image.load()
    return image


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_every_format_of_a_phone_becomes_a_jpeg(kind: str) -> None:
    data, width, height = reencode(jpeg(kind=kind))

    assert opened(data).format == "JPEG"
    assert (width, height) == (64, 48)
    assert opened(data).getpixel((10, 10)) > (220, 220, 220)
    assert opened(data).getpixel((60, 40))[0] < 120


@pytest.mark.parametrize("kind", ["JPEG", "HEIF"])
def test_the_place_where_it_was_taken_is_removed(kind: str) -> None:
    exif = Image.Exif()
    exif[MAKER] = "Camera 7"
    exif.get_ifd(GPS).update({1: "N", 2: (47.0, 4.0, 0.0), 3: "E", 4: (15.0, 26.0, 0.0)})
    taken = jpeg(kind=kind, exif=exif)
    assert opened(taken).getexif().get_ifd(GPS)

    data, _width, _height = reencode(taken)

    assert not dict(opened(data).getexif())
    assert not opened(data).getexif().get_ifd(GPS)
    assert b"Exif" not in data
    assert b"Camera 7" not in data


def test_comments_and_profiles_do_not_come_along() -> None:
    image = Image.new("RGB", (8, 8))
    out = BytesIO()
    image.save(out, "JPEG", comment=b"by Ada Larch", icc_profile=b"profile of a phone")

    data, *_ = reencode(out.getvalue())

    assert b"Ada" not in data
    assert b"profile of a phone" not in data


def test_a_photo_taken_sideways_stands_upright() -> None:
    exif = Image.Exif()
    exif[ORIENTATION] = 6  # to be turned a quarter clockwise: the upper left goes to the upper right
    data, width, height = reencode(jpeg(exif=exif))

    assert (width, height) == (48, 64)
    assert opened(data).getpixel((40, 10)) > (220, 220, 220)
    assert opened(data).getpixel((8, 10))[0] < 120


@pytest.mark.parametrize(("size", "made"), [((4000, 3000), (1600, 1200)), ((900, 1800), (800, 1600)), ((9, 7), (9, 7))])
def test_a_large_photo_is_made_small_and_a_small_one_left(size: tuple[int, int], made: tuple[int, int]) -> None:
    data, *_ = reencode(jpeg(size))

    assert opened(data).size == made
    assert max(made) <= LONGEST_EDGE


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "This is not a photo"),
        (b"%PDF-1.7 a drawing", "This is not a photo"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "This is not a photo"),
        (jpeg(kind="GIF"), "This is not a photo"),
        (jpeg(kind="BMP"), "This is not a photo"),
        (jpeg((800, 600))[:2000], "This photo is damaged"),
        (jpeg(kind="PNG", size=(800, 600))[:1000], "This photo is damaged"),
        (b"\xff\xd8\xff\xe0" + bytes(200), "photo"),
    ],
    ids=["empty", "pdf", "svg", "gif", "bmp", "cut jpeg", "cut png", "noise"],
)
def test_what_is_no_photo_or_damaged_is_refused_with_a_sentence(data: bytes, sentence: str) -> None:
    with pytest.raises(Unusable) as caught:
        reencode(data)

    assert sentence in caught.value.sentence
    assert caught.value.sentence.endswith(".")


def test_a_photo_of_more_than_sixty_megapixels_is_refused_unread() -> None:
    # A bomb: 81 megapixels in a few kilobytes.
    out = BytesIO()
    Image.new("1", (9000, 9000)).save(out, "PNG")
    assert len(out.getvalue()) < 100_000

    with pytest.raises(Unusable, match="60 megapixels"):
        reencode(out.getvalue())


def test_a_file_of_more_than_fifteen_megabytes_is_refused() -> None:
    with pytest.raises(Unusable, match="15 MB"):
        reencode(bytes(MOST_BYTES + 1))


def segment(kind: int, content: bytes) -> bytes:
    return bytes([0xFF, kind]) + (len(content) + 2).to_bytes(2, "big") + content


def test_what_a_phone_made_bare_stays_byte_for_byte() -> None:
    """Its hash was named by what the phone signed without a signal. Segments of a JPEG: ITU-T T.81, from memory."""
    made = jpeg((1600, 900))
    assert reencode(made) == (made, 1600, 900)
    thumbnail = b"JFIF\0\1\1\0\0\1\0\1\1\1" + b"abc"
    head, rest = made[:20], made[20:]  # the mark of a JPEG and JFIF's own segment
    assert head[2:4] == b"\xff\xe0"
    for other in (
        jpeg((1601, 900)),
        made[:2] + segment(0xE0, thumbnail) + rest,
        head + segment(0xE1, b"Exif\0\0abc") + rest,
        head + segment(0xE2, b"ICC_PROFILE\0abc") + rest,
        head + segment(0xFE, b"abc") + rest,
        made + b"abc",
        made[:-2] + segment(0xFE, b"abc") + b"\xff\xd9",
        made + made,
    ):
        data, *_ = reencode(other)
        assert data != other
        assert b"abc" not in data
        assert reencode(data)[0] == data
