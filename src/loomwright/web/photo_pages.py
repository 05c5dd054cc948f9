"""Photos of a job: sent from a phone or tablet, shown, and given out with careful headers."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.responses import Response

from loomwright.errors import ConflictError, UsageError
from loomwright.service.office import Sender
from loomwright.service.office_view import office_view
from loomwright.service.photos import MAX_UPLOAD, PhotoForm, add_photo, photo
from loomwright.web.failures import Refusal, refusal_of
from loomwright.web.forms import who_is
from loomwright.web.shared import page, see, workshop_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
# A picture is only ever a picture: nothing in it runs, no other site embeds it, no shared cache
# keeps it. Its address is its content, so the browser may keep it.
HEADERS = {"content-security-policy": "default-src 'none'; sandbox", "x-content-type-options":
           "nosniff", "cache-control": "private, max-age=86400, immutable",
           "content-disposition": "inline"}


@router.get("/jobs/{job_id}/photos")
def photos(request: Request, job_id: int) -> Response:
    """Show a job's photos, and the form for one more."""
    return _show(request, job_id)


def _show(request: Request, job_id: int, fields: dict[str, str] | None = None,
          refusal: Refusal | None = None) -> Response:
    view = office_view(workshop_of(request), job_id)
    return page(request, "office_photos.html", refusal.status if refusal else 200, view=view,
                fields=fields or {}, refusal=refusal, tab="photos")


@router.post("/jobs/{job_id}/photos")
async def send_photo(request: Request, job_id: int) -> Response:
    """Keep one photo."""
    fields: dict[str, str] = {}
    data = b""
    async with request.form(max_files=1, max_fields=8) as form:
        for name, value in form.multi_items():
            if isinstance(value, UploadFile):
                data = await value.read(MAX_UPLOAD + 1)
            else:
                fields[name] = value
    sent = PhotoForm(data, fields.get("caption", ""), fields.get("about", ""))
    sender = Sender(fields.get("key", ""), who_is(request))
    try:
        await run_in_threadpool(add_photo, workshop_of(request), job_id, sent, sender)
    except ConflictError:
        raise
    except UsageError as error:
        return await run_in_threadpool(_show, request, job_id, fields, refusal_of(error))
    return see(f"/jobs/{job_id}/photos")


@router.get("/jobs/{job_id}/photos/{name}")
def one_photo(request: Request, job_id: int, name: str) -> Response:
    """Return a photo that belongs to the job."""
    found = photo(workshop_of(request), job_id, name.removesuffix(".jpg"))
    return Response(found, media_type="image/jpeg", headers=HEADERS)
