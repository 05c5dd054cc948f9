"""What page groups share: the workshop of a request, a rendered page, a redirect."""

from __future__ import annotations

from typing import Any

from fastapi import Request
from starlette.responses import HTMLResponse, RedirectResponse

from loomwright.service.jobs import Workshop
from loomwright.web.forms import who_is
from loomwright.web.permits import actor_of
from loomwright.web.rendering import render

__all__ = ["events_of_kind", "page", "see", "workshop_of"]

SEE_OTHER = 303


def workshop_of(request: Request) -> Workshop:
    """Return the workshop that the application was made with."""
    found: Workshop = request.app.state.workshop
    return found


def events_of_kind(workshop: Workshop, job_id: int, kind: str, **body: str) -> set[int]:
    """Return the numbers of a job's events of a kind, with what their bodies must say."""
    return {one.number for one in workshop.store.events(job_id)
            if one.kind == kind and body.items() <= dict(one.body).items()}


def page(request: Request, template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """Return a page for this reader."""
    demo = request.app.state.settings.demo
    text = render(template, who=who_is(request), demo=demo, actor=actor_of(request), **values)
    return HTMLResponse(text, status_code=status)


def see(address: str) -> RedirectResponse:
    """Send the browser to another page after a form."""
    return RedirectResponse(address, status_code=SEE_OTHER)
