"""The web application: pages for people, /api for programs, both over the same use cases."""

from __future__ import annotations

import logging
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import Depends, FastAPI
from starlette.middleware.gzip import GZipMiddleware

from loomwright.errors import LoomwrightError
from loomwright.jobs.folder import data_folder
from loomwright.service.access import Access
from loomwright.service.depot import create_depot, fill_depot
from loomwright.service.jobs import Workshop
from loomwright.service.pairing import Pairing
from loomwright.web import (
    access_pages,
    api,
    api_pages,
    api_v1,
    bench_pages,
    circuit_pages,
    editor_pages,
    failures,
    job_pages,
    live,
    office_pages,
    people_pages,
    photo_pages,
    practice_pages,
    record_pages,
    search_pages,
    told_pages,
)
from loomwright.web.assets import Assets
from loomwright.web.drawings import Drawings
from loomwright.web.gate import Gate
from loomwright.web.guard import Guard
from loomwright.web.live import Feed
from loomwright.web.permits import decide
from loomwright.web.rendering import read_templates
from loomwright.web.settings import Settings

__all__ = ["create_app"]

log = logging.getLogger("loomwright.web")


def create_app(settings: Settings | None = None) -> FastAPI:
    """Return the application; its store is opened here and closed when it stops.

    Raises UsageError where the data folder cannot be used.
    """
    settings = settings or Settings()
    workshop = Workshop(data_folder(settings.data))
    if settings.demo:
        create_depot(workshop)

    stopped = threading.Event()

    def prepare() -> None:
        try:
            read_templates()
            workshop.warm().join()
            if settings.demo and not stopped.is_set():
                fill_depot(workshop)
        except LoomwrightError as error:
            log.error("the demonstration depot could not be filled: %s", error)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        threading.Thread(target=prepare, name="prepare", daemon=True).start()
        yield
        stopped.set()
        app.state.feed.close()
        workshop.close()
        app.state.access.close()
        if hasattr(app.state, "practice"):  # made when first asked for
            app.state.practice.close()

    app = FastAPI(title="Loomwright", docs_url=None, redoc_url=None,
                  openapi_url=None, lifespan=lifespan,  # described by api_pages
                  dependencies=[Depends(decide)])
    app.state.workshop, app.state.settings = workshop, settings
    app.state.access = Access(data_folder(settings.data))
    app.state.pairing, app.state.paired = Pairing(), lambda: None
    app.state.feed, app.state.drawings = Feed(workshop), Drawings()
    failures.install(app)
    app.mount("/static", Assets(), name="static")  # first: a page asks for five, past 160 routes
    for group in (job_pages, bench_pages, told_pages, search_pages, record_pages, office_pages,
                  photo_pages, practice_pages, editor_pages, circuit_pages, access_pages,
                  people_pages, live, api, api_v1, api_pages):
        app.include_router(group.router)
    app.add_middleware(GZipMiddleware, minimum_size=1000, compresslevel=6)
    app.add_middleware(Gate, settings=settings, access=app.state.access)
    app.add_middleware(Guard, settings=settings)
    return app
