"""Photos: nothing but the picture is kept; what is no picture, or a bomb, is refused."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from loomwright.errors import NotFoundError, UsageError
from loomwright.service import photos
from loomwright.service.jobs import Workshop
from loomwright.service.office import Sender, take_back
from loomwright.service.photos import (
    MAX_KEPT,
    MAX_SIDE,
    PhotoForm,
    add_photo,
    clean_photo,
    is_clean,
    photo,
)
from tests.service.depot_folder import TRUCK_4, TRUCK_7, depot_in

ORIENTATION, MAKE, GPS = 0x0112, 0x010F, 0x8825


def encoded(form: str, size: tuple[int, int] = (80, 60), **more: object) -> bytes:
    out = io.BytesIO()
    Image.effect_noise(size, 80).convert("RGB").save(out, form, **more)
    return out.getvalue()


def exif() -> Image.Exif:
    made = Image.Exif()
    made[ORIENTATION], made[MAKE] = 6, "Camera of Mr Ross"
    made[GPS] = {1: "N", 2: (57.0, 1.0, 2.0)}
    return made


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_what_came_with_a_picture_is_gone_and_it_stands_upright(form: str) -> None:
    sent = encoded(form, exif=exif())
    assert b"Camera of Mr Ross" in sent
    kept, width, height = clean_photo(sent)
    assert (width, height) == (60, 80)  # turned as the camera was held
    assert b"Camera" not in kept
    assert not Image.open(io.BytesIO(kept)).getexif()
    assert is_clean(kept)
    assert not is_clean(sent)


def test_a_large_picture_is_made_smaller() -> None:
    kept, width, height = clean_photo(encoded("JPEG", (3000, 2000), quality=95))
    assert (width, height) == (MAX_SIDE, round(MAX_SIDE * 2 / 3))
    assert len(kept) <= MAX_KEPT


def bomb(width: int, height: int) -> bytes:
    """Return a PNG of a few bytes that says it is huge."""
    def chunk(name: bytes, body: bytes) -> bytes:
        return (struct.pack(">I", len(body)) + name + body
                + struct.pack(">I", zlib.crc32(name + body)))

    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0,
                                                             0, 0))
            + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b""))


@pytest.mark.parametrize("size", [(60_000, 60_000), (2**31 - 1, 2**31 - 1), (100_000, 1_000)])
def test_a_bomb_is_refused_by_what_it_says(size: tuple[int, int]) -> None:
    with pytest.raises(UsageError):
        clean_photo(bomb(*size))


@pytest.mark.parametrize("form", ["GIF", "BMP", "TIFF"])
def test_other_forms_are_refused(form: str) -> None:
    with pytest.raises(UsageError, match="no photo that can be read"):
        clean_photo(encoded(form))


@settings(deadline=None, max_examples=60)
@given(st.binary(max_size=200), st.integers(0, 800))
def test_damaged_files_are_refused_or_clean(noise: bytes, at: int) -> None:
    sent = encoded("JPEG")
    try:
        kept, _, _ = clean_photo(sent[:at] + noise + sent[at + len(noise):])
    except UsageError:
        return
    assert is_clean(kept)


def test_a_photo_belongs_to_its_job_also_after_it_was_taken_back(tmp_path: Path) -> None:
    workshop = Workshop(depot_in(tmp_path))
    number = add_photo(workshop, TRUCK_7, PhotoForm(encoded("PNG"), "plug", "1"),
                       Sender("photo-key"))
    kept = workshop.opened(TRUCK_7)[1].office.photos[0]
    assert (kept.caption, kept.about) == ("plug", "1")
    assert is_clean(photo(workshop, TRUCK_7, kept.sha256))
    for job, name in ((TRUCK_4, kept.sha256), (TRUCK_7, "0" * 64), (TRUCK_7, "../jobs.sqlite")):
        with pytest.raises(NotFoundError):
            photo(workshop, job, name)
    take_back(workshop, TRUCK_7, number, Sender("back-key-1"))
    assert workshop.opened(TRUCK_7)[1].office.photos == ()
    assert is_clean(photo(workshop, TRUCK_7, kept.sha256))  # the history still shows it


@pytest.mark.parametrize("form", [
    PhotoForm(b""), PhotoForm(b"x" * 20_000_001), PhotoForm(encoded("PNG"), "x" * 301),
    PhotoForm(encoded("PNG"), "", "99")])
def test_what_cannot_be_kept(tmp_path: Path, form: PhotoForm) -> None:
    workshop = Workshop(depot_in(tmp_path))
    with pytest.raises(UsageError):
        add_photo(workshop, TRUCK_7, form, Sender("photo-key"))
    assert workshop.opened(TRUCK_7)[1].office.photos == ()


@pytest.mark.parametrize(("form", "size"), [("PNG", (4000, 3000)), ("JPEG", (7000, 5000)),
                                            ("WEBP", (4000, 3000))])
def test_a_large_picture_that_was_held_sideways_stands_upright(
    form: str, size: tuple[int, int]
) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # turn by a quarter
    out = io.BytesIO()
    Image.new("RGB", size, "navy").save(out, form, exif=exif)
    kept, width, height = clean_photo(out.getvalue())
    assert is_clean(kept)
    assert width < height == 1600


def test_a_small_file_with_a_huge_plain_picture_is_refused() -> None:
    out = io.BytesIO()  # 200 kB that would take a gigabyte
    Image.new("1", (7700, 7700)).save(out, "PNG")
    with pytest.raises(UsageError, match="25 million is the most of a PNG"):
        clean_photo(out.getvalue())


def test_photos_taken_back_count_as_they_stay_on_the_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photos, "MAX_EVER", 2)
    workshop = Workshop(depot_in(tmp_path))
    for n in range(2):
        number = add_photo(workshop, TRUCK_7, PhotoForm(encoded("PNG")), Sender(f"photo-key-{n}"))
        take_back(workshop, TRUCK_7, number, Sender(f"taken-back-{n}"))
    with pytest.raises(UsageError, match="with those taken back"):
        add_photo(workshop, TRUCK_7, PhotoForm(encoded("PNG")), Sender("photo-key-9"))
    workshop.close()
