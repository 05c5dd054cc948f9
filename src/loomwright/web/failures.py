"""Errors as a person or a program reads them: the status from the error's class, never a trace."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from starlette.responses import HTMLResponse, JSONResponse, Response

from loomwright.errors import (
    ConflictError,
    FileProblemsError,
    LoomwrightError,
    NotAllowedError,
    NotFoundError,
    SignInError,
    SolveError,
    TooManyTriesError,
    UsageError,
)
from loomwright.web.rendering import render

if TYPE_CHECKING:
    from fastapi import FastAPI, Request

__all__ = ["BodyTooLargeError", "Refusal", "install", "refusal_of", "refuse"]

log = logging.getLogger("loomwright.web")
STATUS: tuple[tuple[type[LoomwrightError], int], ...] = (
    (NotFoundError, 404), (ConflictError, 409), (SolveError, 422), (UsageError, 400),
    (SignInError, 401), (NotAllowedError, 403), (TooManyTriesError, 429),
)
TITLES = {400: "That cannot be done", 401: "Sign in first", 403: "Refused",
          429: "Wait a little", 404: "Not there", 405: "Not that way",
          409: "Something changed meanwhile", 413: "Too much at once",
          422: "The circuit cannot be solved", 500: "Our own mistake"}


class BodyTooLargeError(Exception):
    """A body went over the limit while it was read; the guard answers it."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why something was not done: HTTP status, code, message, next step, problems in a file."""

    status: int
    code: str
    message: str
    next_step: str = ""
    problems: tuple[dict[str, Any], ...] = field(default=())


def refusal_of(error: LoomwrightError) -> Refusal:
    """Return an error as it is shown."""
    status = next((code for kind, code in STATUS if isinstance(error, kind)), 500)
    problems: tuple[dict[str, Any], ...] = ()
    message = error.message
    if isinstance(error, FileProblemsError):
        count = len(error.problems)
        message = f"The circuit has {count} problem{'s' if count > 1 else ''}."
        problems = tuple(
            {"line": one.line, "column": one.column, "what": one.what, "fix": one.fix}
            for one in error.problems)
    return Refusal(status, error.code, message, error.next_step, problems)


def refuse(refusal: Refusal, path: str, **reader: Any) -> Response:
    """Return a refusal as JSON below /api, as a page elsewhere; `reader` is who reads it."""
    if path.startswith("/api/"):
        return JSONResponse(status_code=refusal.status, content={"error": {
            "code": refusal.code, "message": refusal.message, "next_step": refusal.next_step,
            "problems": list(refusal.problems)}})
    page = render("error.html", refusal=refusal, title=TITLES.get(refusal.status, "Not done"),
                  **reader)
    return HTMLResponse(page, status_code=refusal.status)


def _what_is_wrong(found: Sequence[Any]) -> str:
    """Return which fields of a request are wrong, without what was sent in them."""
    told = [f"{'.'.join(str(one) for one in error['loc'])}: {error['msg']}" for error in found[:5]]
    return f"The request has a wrong value: {'; '.join(told)}."


def _reader(request: Request) -> dict[str, Any]:
    """Return who reads a refusal, as far as they were let in."""
    from loomwright.web.forms import who_is
    from loomwright.web.permits import ACTOR

    actor = request.scope.get(ACTOR)
    if actor is None:  # refused at the door
        return {}
    return {"who": who_is(request), "demo": request.app.state.settings.demo, "actor": actor}


def install(app: FastAPI) -> None:
    """Register the handlers of every error."""
    from fastapi.exceptions import RequestValidationError
    from starlette.exceptions import HTTPException

    async def ours(request: Request, error: Exception) -> Response:
        assert isinstance(error, LoomwrightError)
        return refuse(refusal_of(error), request.url.path, **_reader(request))

    async def http(request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException)
        what = {404: "There is no such page.", 405: "This address does not take that."}
        text = what.get(error.status_code, str(error.detail))
        return refuse(Refusal(error.status_code, "http", text, "Go to the job list."),
                      request.url.path, **_reader(request))

    async def invalid(request: Request, error: Exception) -> Response:
        assert isinstance(error, RequestValidationError)
        path = request.url.path
        if path.startswith("/api/"):
            return refuse(Refusal(400, "usage", _what_is_wrong(error.errors()),
                                  "See the description at /api."), path)
        return refuse(Refusal(400, "usage", "The address or the form has a wrong value.",
                              "Go back and try again."), path, **_reader(request))

    async def too_large(_request: Request, _error: Exception) -> Response:
        return Response(status_code=413)  # in place of a line in the log; the guard says more

    async def bug(request: Request, error: Exception) -> Response:
        log.error("unexpected error at %s", request.url.path, exc_info=error)
        return refuse(Refusal(500, "bug", "The program made a mistake; nothing was saved by it.",
                              "Load the page again. What was saved before is safe."),
                      request.url.path)

    app.add_exception_handler(LoomwrightError, ours)
    app.add_exception_handler(HTTPException, http)
    app.add_exception_handler(RequestValidationError, invalid)
    app.add_exception_handler(BodyTooLargeError, too_large)
    app.add_exception_handler(Exception, bug)
