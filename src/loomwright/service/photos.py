"""Photos of a job: taken from a phone, re-encoded so that nothing but the picture is kept.

Pillow reads the three forms named here only; the picture is turned as the camera held it, made
smaller where it is large, and written anew as JPEG without any of what came with it: place, time,
camera, thumbnails, comments, colour profile.
"""

from __future__ import annotations

import io
import threading
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING

from loomwright.errors import ConflictError, UsageError
from loomwright.jobs.records import NewEvent

if TYPE_CHECKING:
    from PIL.Image import Image

    from loomwright.service.jobs import Workshop
    from loomwright.service.office import Sender

__all__ = ["MAX_PHOTOS", "PhotoForm", "add_photo", "clean_photo", "is_clean", "photo"]

FORMS = ("JPEG", "PNG", "WEBP")
MAX_UPLOAD = 20_000_000  # bytes of one photo as sent
MAX_PIXELS = 60_000_000  # more than a phone takes; larger pictures are refused before decoding
MAX_WHOLE_PIXELS = 25_000_000  # of PNG and WebP, which cannot be decoded at the size needed
MAX_SIDE = 1600  # pixels kept
MAX_KEPT = 900_000  # bytes kept
QUALITIES = (84, 74, 62, 48, 30)
MAX_PHOTOS = 60  # of one job
MAX_CAPTION = 300
MAX_EVER = 200  # of one job, with those taken back: they stay on the disk
_one_at_a_time = threading.Lock()  # a small file can hold a picture of 200 MB


@dataclass(frozen=True, slots=True)
class PhotoForm:
    """A photo as sent, its caption, and the number of the reading or repair it belongs to."""

    data: bytes
    caption: str = ""
    about: str = ""


def add_photo(workshop: Workshop, job_id: int, form: PhotoForm, sender: Sender) -> int:
    """Keep a photo of a job and return its number.

    Raises
        UsageError: no picture of a known form, too large, too many, or about what is not there
        ConflictError: the vehicle was handed over
    """
    _, history, _ = workshop.opened(job_id)
    office = history.office
    if office.hand_over is not None:
        raise ConflictError("The vehicle of this job was handed over; nothing can be added.",
                            next_step="Open the job again first, from its page.")
    if len(office.photos) >= MAX_PHOTOS:
        raise UsageError(f"This job has {MAX_PHOTOS} photos; that is the most.",
                         next_step="Take one back first.")
    if len(form.caption) > MAX_CAPTION:
        raise UsageError(f"The caption has {len(form.caption)} characters; {MAX_CAPTION} is the "
                         "most.", next_step="Shorten it.")
    if sum(one.kind == "photo" for one in workshop.store.events(job_id)) >= MAX_EVER:
        raise UsageError(f"This job has had {MAX_EVER} photos, with those taken back; that is the "
                         "most.", next_step="Do without a further one.")
    known = {*(str(one.number) for one in history.readings),
             *(str(one.number) for one in history.repairs)}
    if form.about and form.about not in known:
        raise UsageError(f"This job has no reading or repair {form.about[:10]}.",
                         next_step="Load the page again.")
    jpeg, width, height = clean_photo(form.data)
    digest = workshop.store.photos.keep(jpeg)
    body = {"sha256": digest, "caption": form.caption.strip(), "about": form.about,
            "width": str(width), "height": str(height)}
    return workshop.store.add_event(job_id, NewEvent("photo", body, sender.key, sender.by)).number


def photo(workshop: Workshop, job_id: int, sha256: str) -> bytes:
    """Return a photo of a job as JPEG. Raises NotFoundError where the job does not have it."""
    from loomwright.errors import NotFoundError

    workshop.store.job(job_id)
    own = {one.body["sha256"] for one in workshop.store.events(job_id) if one.kind == "photo"}
    if sha256 not in own:
        raise NotFoundError("There is no such photo.", next_step="Look on the job's page.")
    return workshop.store.photos.read(sha256)


def clean_photo(data: bytes) -> tuple[bytes, int, int]:
    """Return a picture as JPEG with nothing but its pixels, and its width and height.

    Raises UsageError where it is no JPEG, PNG or WebP, is broken, or too large.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    if not data:
        raise UsageError("There is no photo.", next_step="Choose or take one.")
    if len(data) > MAX_UPLOAD:
        raise UsageError(f"The photo has {len(data) / 1e6:.0f} MB; {MAX_UPLOAD / 1e6:.0f} MB is "
                         "the most.", next_step="Take it with a smaller setting.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # ours is stricter
            opened = Image.open(io.BytesIO(data), formats=FORMS)
        _check_size(opened)
        with _one_at_a_time:
            opened.draft("RGB", (MAX_SIDE, MAX_SIDE))  # a JPEG is decoded at the size needed
            if max(opened.size) > 2 * MAX_SIDE:  # before anything makes a copy of all of it
                opened.thumbnail((2 * MAX_SIDE, 2 * MAX_SIDE))
            plain = _on_white(ImageOps.exif_transpose(opened))
    except (UnidentifiedImageError, Image.DecompressionBombError) as error:
        raise UsageError("This is no photo that can be read.",
                         next_step="Send a JPEG, PNG or WebP picture.") from error
    except (OSError, ValueError, SyntaxError, EOFError, MemoryError) as error:
        raise UsageError("The photo is broken.", next_step="Take it again.") from error
    plain.thumbnail((MAX_SIDE, MAX_SIDE))
    return _encoded(plain), plain.width, plain.height


def _check_size(opened: Image) -> None:
    width, height = opened.size
    most = MAX_PIXELS if opened.format == "JPEG" else MAX_WHOLE_PIXELS
    if width * height > most:
        raise UsageError(f"The photo has {width} x {height} pixels; {most / 1e6:.0f} million "
                         f"is the most of a {opened.format}.",
                         next_step="Take it with a smaller setting.")


def _on_white(turned: Image) -> Image:
    """Return a picture as plain colours; what is transparent becomes white."""
    from PIL import Image

    if turned.mode in ("RGBA", "LA", "PA") or "transparency" in turned.info:
        layer = turned.convert("RGBA")
        ground = Image.new("RGB", layer.size, "white")
        ground.paste(layer, mask=layer.getchannel("A"))
        return ground
    plain = Image.new("RGB", turned.size)
    plain.paste(turned.convert("RGB"))  # only pixels go over: no comments, no profile
    return plain


def _encoded(plain: Image) -> bytes:
    for quality in QUALITIES:
        out = io.BytesIO()
        plain.save(out, "JPEG", quality=quality, optimize=True)
        if out.tell() <= MAX_KEPT:
            break
    return out.getvalue()


def is_clean(data: bytes) -> bool:
    """Return whether bytes are a JPEG as this module writes it: small, whole, nothing with it."""
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            opened = Image.open(io.BytesIO(data), formats=("JPEG",))
        if max(opened.size) > MAX_SIDE or len(data) > MAX_KEPT * 2:
            return False
        opened.load()
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError,
            Image.DecompressionBombWarning):
        return False
    extra = {"exif", "icc_profile", "comment", "photoshop", "mp", "xmp"} & set(opened.info)
    return not extra and set(opened.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
