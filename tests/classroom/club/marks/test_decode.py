"""Bytes that are made greys, and all those that are not."""

from __future__ import annotations

import io
import zipfile

import numpy as np
import pytest
from PIL import Image

from classroom.club.marks import decode
from classroom.club.marks.decode import greys_of
from classroom.errors import ClassroomCode, InputError

RAMP = np.add.outer(np.arange(600) // 4, np.arange(800) // 8).astype(np.uint8)


def file_of(image: Image.Image, kind: str = "JPEG", **more) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def picture(kind: str = "JPEG", **more) -> bytes:
    return file_of(Image.fromarray(RAMP).convert("RGB"), kind, **more)


def refusal(data: bytes) -> InputError:
    with pytest.raises(InputError) as refused:
        greys_of(data)
    assert refused.value.message.endswith(".")
    return refused.value


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_a_picture_becomes_its_greys(kind):
    greys = greys_of(picture(kind, **({"quality": 95} if kind == "JPEG" else {})))
    assert greys.shape == (600, 800) and greys.dtype == np.uint8
    assert np.abs(greys.astype(int) - RAMP).max() <= 3


@pytest.mark.parametrize("value", range(1, 9))
def test_a_picture_is_turned_as_its_file_says_and_as_pillow_turns_it(value):
    from PIL import ImageOps

    exif = Image.Exif()
    exif[0x0112] = value
    data = picture(quality=95, exif=exif)
    theirs = np.array(ImageOps.exif_transpose(Image.open(io.BytesIO(data))).convert("L"))
    assert np.abs(greys_of(data).astype(int) - theirs).max() <= 3


def test_nothing_else_that_the_file_says_is_read():
    exif = Image.Exif()
    exif.get_ifd(0x8825)[2] = (48.0, 12.0, 0.0)  # a place on the globe
    exif[0x010F] = "camera"
    assert (greys_of(picture(exif=exif)) == greys_of(picture())).all()


def test_what_is_no_picture_is_refused():
    assert refusal(b"").code == ClassroomCode.EMPTY
    for data in (b"GIF89a" + bytes(500), b"%PDF-1.7 hello", b"<svg></svg>", b"\x00" * 5000, b"mark,x,y\n1,2,3\n"):
        assert refusal(data).code == ClassroomCode.NOT_A_PICTURE
    still = io.BytesIO()
    Image.fromarray(RAMP).save(still, "WEBP")
    assert refusal(still.getvalue()).code == ClassroomCode.NOT_A_PICTURE


def test_too_many_bytes_are_refused_before_they_are_looked_at():
    assert refusal(picture() + bytes(decode.MOST_BYTES)).code == ClassroomCode.TOO_BIG


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_twenty_thousand_by_twenty_thousand_pixels_are_refused_by_what_the_file_says(kind, monkeypatch):
    """The file is small and says that it is large; nothing of it is decoded."""
    data = bytearray(picture(kind))
    if kind == "JPEG":
        at = data.index(b"\xff\xc0") + 5
        data[at : at + 4] = (20_000).to_bytes(2) + (20_000).to_bytes(2)
    else:
        import zlib

        data[16:24] = (20_000).to_bytes(4) + (20_000).to_bytes(4)
        data[29:33] = zlib.crc32(bytes(data[12:29])).to_bytes(4)

    def never(*args, **kwargs):
        raise AssertionError("it was decoded")

    monkeypatch.setattr(Image.Image, "convert", never)
    monkeypatch.setattr("PIL.ImageFile.ImageFile.load", never)
    error = refusal(bytes(data))
    assert error.code == ClassroomCode.TOO_BIG and "too many pixels" in error.message


def test_a_large_plain_jpeg_is_taken_at_half_its_size_and_a_progressive_one_is_not(monkeypatch):
    monkeypatch.setattr(decode, "MOST_PIXELS", 300_000)
    monkeypatch.setattr(decode, "MOST_PIXELS_HALVED", 1_200_000)
    assert greys_of(picture()).shape == (300, 400)
    assert refusal(picture(progressive=True)).code == ClassroomCode.TOO_BIG
    assert refusal(picture("PNG")).code == ClassroomCode.TOO_BIG


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.999])
def test_a_picture_cut_short_is_refused(kind, share):
    whole = picture(kind)
    assert refusal(whole[: int(share * len(whole))]).code in (ClassroomCode.CUT_SHORT, ClassroomCode.NOT_A_PICTURE)


def test_a_picture_that_moves_is_refused():
    frames = [Image.fromarray(np.roll(RAMP, 20 * i)).convert("RGB") for i in range(3)]
    assert refusal(file_of(frames[0], "PNG", save_all=True, append_images=frames[1:])).code == ClassroomCode.MOVING


def test_colours_for_printing_and_science_are_refused():
    assert refusal(file_of(Image.fromarray(RAMP).convert("CMYK"))).code == ClassroomCode.OTHER_COLOURS
    deep = Image.fromarray(RAMP.astype(np.uint16) * 200)
    assert refusal(file_of(deep, "PNG")).code == ClassroomCode.OTHER_COLOURS


def test_a_picture_with_another_file_behind_it_is_refused():
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w") as packed:
        packed.writestr("hello.txt", "hello")
    for kind in ("JPEG", "PNG"):
        for behind in (archive.getvalue(), b"\n%PDF-1.7\n", b"<script>alert(1)</script>"):
            assert refusal(picture(kind) + behind).code == ClassroomCode.TWO_FILES_IN_ONE


def test_what_a_phone_puts_behind_its_picture_does_no_harm():
    """Some phones store a short film behind the picture; it is left alone."""
    assert (greys_of(picture() + b"\x00\x00\x00\x18ftypmp42" + bytes(2000)) == greys_of(picture())).all()


def test_an_icon_or_a_strip_is_no_cameras_picture():
    for shape in ((300, 400), (200, 4000)):
        small = file_of(Image.fromarray(np.full(shape, 90, dtype=np.uint8)))
        assert refusal(small).code == ClassroomCode.TOO_SMALL


def test_a_damaged_picture_is_refused_whatever_is_damaged():
    """Bytes are struck anywhere: greys or a refusal, and nothing else comes out."""
    rng = np.random.default_rng(8)
    for kind in ("JPEG", "PNG"):
        whole = picture(kind)
        for _ in range(60):
            data = bytearray(whole)
            for at in rng.integers(3 if kind == "JPEG" else 8, len(data), 6):
                data[at] = rng.integers(256)
            try:
                assert greys_of(bytes(data)).ndim == 2
            except InputError as error:
                assert error.message
