"""/api/v1: photos of a job: sent, listed, given out; every one re-encoded, without its place."""

from __future__ import annotations

from typing import Annotated

from fastapi import File, Form, Path, Request, Response, UploadFile
from starlette.concurrency import run_in_threadpool

from loomwright.service.office import Sender
from loomwright.service.photos import MAX_UPLOAD, PhotoForm, add_photo, photo
from loomwright.web import api_v1_office_models as shapes
from loomwright.web.api_v1_models import KEY_WORDS, Done
from loomwright.web.api_v1_shared import JobId, new_router
from loomwright.web.forms import who_is
from loomwright.web.photo_pages import HEADERS
from loomwright.web.shared import workshop_of

__all__ = ["router"]

router = new_router()
JPEG = {"content": {"image/jpeg": {}}, "description": "The photo."}


@router.get("/jobs/{job_id}/photos", tags=["Photos"], summary="Photos of a job")
def list_photos(request: Request, job_id: JobId) -> list[shapes.Photo]:
    """Return the photos that stand, oldest first."""
    return [shapes.Photo.model_validate(one)
            for one in workshop_of(request).opened(job_id)[1].office.photos]


@router.post("/jobs/{job_id}/photos", status_code=201, tags=["Photos"], summary="Send a photo")
async def send_photo(
    request: Request, job_id: JobId,
    photo: Annotated[UploadFile, File(description="JPEG, PNG or WebP of 20 MB at most.")],
    key: Annotated[str, Form(min_length=8, max_length=80, description=KEY_WORDS)],
    caption: Annotated[str, Form(max_length=300)] = "",
    about: Annotated[str, Form(description="Number of the reading or repair it shows.")] = "",
) -> Done:
    """Keep a photo. Only its pixels are kept: made smaller, without place, time and camera."""
    data = await photo.read(MAX_UPLOAD + 1)
    number = await run_in_threadpool(
        add_photo, workshop_of(request), job_id, PhotoForm(data, caption, about),
        Sender(key, who_is(request)))
    return Done(job=job_id, number=number)


@router.get("/jobs/{job_id}/photos/{sha256}.jpg", tags=["Photos"], summary="A photo",
            response_class=Response, responses={200: JPEG})
def one_photo(request: Request, job_id: JobId,
              sha256: Annotated[str, Path(description="As the list of photos says.")]) -> Response:
    """Return a photo of the job as JPEG."""
    return Response(photo(workshop_of(request), job_id, sha256), media_type="image/jpeg",
                    headers=HEADERS)
