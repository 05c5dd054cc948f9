"""The gate after the guard: which device, which person, which program is asking.

On a machine that only listens to itself everybody who reaches it sits at it. On a workshop network
nothing but the door (pairing, then signing in) is reachable without a paired device and a person,
or a token. There nobody has so many requests answered at once that others would wait.
"""

from __future__ import annotations

import asyncio
from collections import Counter
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.responses import HTMLResponse, RedirectResponse, Response

from loomwright.errors import LoomwrightError, NotAllowedError, SignInError
from loomwright.service.roles import HOST, NOBODY, Actor
from loomwright.web.failures import TITLES, Refusal, refusal_of, refuse
from loomwright.web.permits import ACTOR, ANYBODY, DOOR, PERMITS
from loomwright.web.rendering import render

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from loomwright.service.access import Access
    from loomwright.web.settings import Settings

__all__ = ["DEVICE_COOKIE", "MOST_AT_ONCE", "SESSION_COOKIE", "Gate"]

DEVICE_COOKIE, SESSION_COOKIE = "loomwright_device", "loomwright_session"
# What the door itself looks like; nothing else is given to a device that is not paired.
ASSETS = {"/static/app.css", "/static/people.css", "/static/theme.js", "/static/mark.svg"}
AT_THE_DOOR = {path for (_, path), one in PERMITS.items() if one == ANYBODY}
PAIRED_DOOR = AT_THE_DOOR | {path for (_, path), one in PERMITS.items() if one == DOOR}
# Of one person on one device, one program, or one address that nobody knows. A browser has six
# under way at most; the program answers forty at once, and some of them take seconds.
MOST_AT_ONCE = 10
CHECK_AGAIN_S = 15.0  # an open stream ends this long after its session at the latest


class Gate:
    """ASGI middleware that finds out who asks, and turns away whoever may not be here."""

    def __init__(self, app: ASGIApp, settings: Settings, access: Access) -> None:
        self._app, self._settings, self._access = app, settings, access
        self._under_way: Counter[str] = Counter()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on with its actor, or answer it here."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        try:
            actor = await self._actor(scope["path"], headers)
            self._check(scope["path"], actor)
        except LoomwrightError as error:
            await self._turned_away(scope, headers, error)(scope, receive, send)
            return
        scope[ACTOR] = actor
        if not self._settings.shared:
            await self._app(scope, receive, send)
        elif scope["path"].endswith("/events"):
            await self._app(scope, self._watched(scope["path"], headers, receive), send)
        else:
            await self._in_turn(actor, scope, receive, send)

    async def _in_turn(self, actor: Actor, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on unless its sender has as many under way as one may have."""
        who = f"{actor.kind} {actor.person} {actor.device} {actor.name}"
        if not actor.known:
            who = f"from {(scope.get('client') or ('', 0))[0]}"
        if self._under_way[who] >= MOST_AT_ONCE:
            answer = refuse(
                Refusal(429, "too-many-at-once", f"{MOST_AT_ONCE} of your requests are being "
                        "answered already.", "Wait a moment, then send it again."), scope["path"])
            answer.headers["retry-after"] = "2"
            await answer(scope, receive, send)
            return
        self._under_way[who] += 1
        try:
            await self._app(scope, receive, send)
        finally:
            self._under_way[who] -= 1
            if not self._under_way[who]:
                del self._under_way[who]

    async def _actor(self, path: str, headers: Headers) -> Actor:
        """Return who asks. Raises SignInError on a token that is none."""
        kind, _, secret = headers.get("authorization", "").partition(" ")
        if secret and kind.lower() == "bearer":
            if not path.startswith("/api/"):
                raise NotAllowedError("A token opens the addresses below /api only.",
                                      next_step="Sign in as a person for the pages.")
            return await run_in_threadpool(self._access.program, secret.strip())
        cookies = _cookies(headers)
        session, device = cookies.get(SESSION_COOKIE, ""), cookies.get(DEVICE_COOKIE, "")
        if not self._settings.shared:
            if not session:
                return HOST
            found = await run_in_threadpool(self._access.signed_in, session)
            return found if found.known else HOST
        return await run_in_threadpool(self._on_device, session, device)

    def _on_device(self, session: str, device: str) -> Actor:
        number = self._access.device(device)
        if not number:
            return NOBODY
        actor = self._access.signed_in(session, number)
        return actor if actor.known else Actor("", "", "nobody", frozenset(), device=number)

    def _check(self, path: str, actor: Actor) -> None:
        """Raise SignInError where nobody is signed in and the address is not the door."""
        if actor.known or path in ASSETS or path in AT_THE_DOOR:
            return
        if not actor.device:
            raise SignInError("This device is not paired with the workshop.",
                              next_step="Pair it with the code at the workshop computer.")
        if path not in PAIRED_DOOR:
            raise SignInError("Nobody is signed in on this device.", next_step="Sign in first.")

    def _turned_away(self, scope: Scope, headers: Headers, error: LoomwrightError) -> Response:
        """Return the way to the door for a person's page, a refusal for everything else."""
        refusal, path = refusal_of(error), scope["path"]
        if path.startswith("/api/"):
            answer = refuse(refusal, path)
            answer.headers["www-authenticate"] = "Bearer"
            return answer
        page = scope["method"] == "GET" and "text/html" in headers.get("accept", "")
        if page and isinstance(error, SignInError):
            query = scope.get("query_string", b"").decode("latin-1")
            asked = path + (f"?{query}" if query else "")
            return RedirectResponse(f"/sign-in?next={quote(asked, safe='')}"
                                    if path != "/sign-in" and path != "/set-up" else "/pair", 303)
        text = render("door_refused.html", refusal=refusal,
                      title=TITLES.get(refusal.status, "Not done"))
        return HTMLResponse(text, refusal.status)

    def _watched(self, path: str, headers: Headers, receive: Receive) -> Receive:
        """End a stream soon after its session: the page is told that its reader went."""

        async def watched() -> Message:
            while True:
                try:
                    return await asyncio.wait_for(receive(), CHECK_AGAIN_S)
                except TimeoutError:
                    pass
                try:
                    self._check(path, await self._actor(path, headers))
                except LoomwrightError:
                    return {"type": "http.disconnect"}

        return watched


def _cookies(headers: Headers) -> dict[str, str]:
    """Return the cookies of a request; of two with one name neither is trusted."""
    found: dict[str, str] = {}
    for piece in headers.get("cookie", "").split(";"):
        try:
            one = SimpleCookie(piece.strip())
        except CookieError:
            continue
        for name, morsel in one.items():
            found[name] = "" if name in found else morsel.value
    return found
