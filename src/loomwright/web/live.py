"""Live updates: each open job page is told of a new event by a server-sent event.

One stream costs a socket and a small task, never a thread. A stream holds the newest event only, so
a slow tablet costs no memory and is told of the latest when it listens again. Streams are shared
out: whoever has as many as one person needs, is answered at once and asks again now and then.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import PlainTextResponse, Response

from loomwright.web.forms import number_in
from loomwright.web.permits import actor_of

if TYPE_CHECKING:
    from starlette.types import Receive, Scope, Send

    from loomwright.jobs.records import Event
    from loomwright.service.jobs import Workshop

__all__ = ["MAX_STREAMS", "STREAMS_EACH", "STREAMS_FROM_ONE_PLACE", "Asker", "Feed", "router"]

router = APIRouter(include_in_schema=False)
MAX_STREAMS = 100  # a workshop's tablets; beyond them a page asks now and then
STREAMS_EACH = 8  # of one person on one device: a browser opens six connections to one host
STREAMS_FROM_ONE_PLACE = 40  # of one address: several devices may stand behind one
BEAT_S = 15.0  # shows a lost tablet, and what another process added to the store
RETRY_MS = 2000
ASK_AGAIN_MS = 30_000  # of a page that got no stream; its browser does so by itself
BUSY = ("No more pages can be told at once what is new here; this page asks every "
        f"{ASK_AGAIN_MS // 1000} seconds. Close pages that nobody looks at.")
HEADERS = {"content-type": "text/event-stream; charset=utf-8", "cache-control": "no-store",
           "x-accel-buffering": "no"}


@dataclass(frozen=True, slots=True)
class Asker:
    """Whose page listens: the person on one device ('' at a machine's own screen), and from where.

    It is the person and not the session, so that signing in again and again gains nothing.
    """

    person: str = ""
    address: str = ""


@dataclass(frozen=True, slots=True)
class _Asked:
    """What a page asks to be told of: a job's events after one; and whether it asks again."""

    job: int
    last: int
    asker: Asker
    again: bool


class _Stream:
    """One listening page: the newest event it has not been told of."""

    def __init__(self, job: int, last: int, asker: Asker) -> None:
        self.job, self.told, self.asker = job, last, asker
        self.newest: Event | None = None
        self.woken = asyncio.Event()

    def offer(self, event: Event) -> None:
        """Keep an event that is newer than what the page knows, and wake its task."""
        if event.number > max(self.told, self.newest.number if self.newest else 0):
            self.newest = event
            self.woken.set()


class Feed:
    """All listening pages of one application."""

    def __init__(self, workshop: Workshop) -> None:
        """Listen to the workshop's store; pages may join until `close`."""
        self._workshop = workshop
        self._streams: dict[int, set[_Stream]] = {}
        self._loop: asyncio.AbstractEventLoop | None = None
        self._closed = False
        workshop.store.listen(self._heard)

    @property
    def count(self) -> int:
        """Return how many pages listen."""
        return sum(len(some) for some in self._streams.values())

    def close(self) -> None:
        """End every stream; called in the event loop when the server stops."""
        self._closed = True
        for some in self._streams.values():
            for one in some:
                one.woken.set()

    def _heard(self, job_id: int, event: Event) -> None:
        """Pass an event from the thread that added it to the event loop."""
        loop = self._loop
        if loop is not None:
            with contextlib.suppress(RuntimeError):  # the loop is closing: nobody listens
                loop.call_soon_threadsafe(self._offer, job_id, event)

    def _offer(self, job_id: int, event: Event) -> None:
        for one in self._streams.get(job_id, ()):
            one.offer(event)

    def join(self, job_id: int, last: int, asker: Asker) -> _Stream | None:
        """Return the stream of one more page, or None where its asker, or all, have enough."""
        if self._closed or not self._room(asker):
            return None
        self._loop = asyncio.get_running_loop()
        stream = _Stream(job_id, last, asker)
        self._streams.setdefault(job_id, set()).add(stream)
        return stream

    def _room(self, asker: Asker) -> bool:
        every = [one.asker for some in self._streams.values() for one in some]
        mine = sum(one.person == asker.person for one in every) if asker.person else 0
        here = sum(one.address == asker.address for one in every)
        return (len(every) < MAX_STREAMS and mine < STREAMS_EACH
                and here < STREAMS_FROM_ONE_PLACE)

    async def newest(self, job_id: int, last: int) -> Event | None:
        """Return the newest event of a job, where a page has not seen it."""
        stored = await run_in_threadpool(self._workshop.store.events, job_id)
        return stored[-1] if stored and stored[-1].number > last else None

    def leave(self, stream: _Stream) -> None:
        """Forget a page that went."""
        some = self._streams[stream.job]
        some.discard(stream)
        if not some:
            del self._streams[stream.job]

    async def lines(self, stream: _Stream) -> AsyncIterator[str]:
        """Yield what a page is told, from the first event after the one it has seen."""
        yield f"retry: {RETRY_MS}\n\n"
        await self._catch_up(stream)
        while not self._closed:
            stream.woken.clear()
            event, stream.newest = stream.newest, None
            if event is not None:
                stream.told = event.number
                yield _told(event)
            elif not await _woken(stream):
                await self._catch_up(stream)
                yield ": still here\n\n"

    async def _catch_up(self, stream: _Stream) -> None:
        """Offer the newest stored event: added before the page listened, or by another process."""
        newest = await self.newest(stream.job, stream.told)
        if newest is not None:
            stream.offer(newest)


async def _woken(stream: _Stream) -> bool:
    try:
        await asyncio.wait_for(stream.woken.wait(), BEAT_S)
    except TimeoutError:
        return False
    return True


def _told(event: Event) -> str:
    body: dict[str, Any] = {"last": event.number, "kind": event.kind, "by": event.by}
    return f"id: {event.number}\nevent: change\ndata: {json.dumps(body)}\n\n"


class _EventStream(Response):
    """A response that lasts until the page goes, or the server stops."""

    def __init__(self, feed: Feed, asked: _Asked) -> None:
        super().__init__()
        self._feed, self._asked = feed, asked

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send what the page is told while watching for its going."""
        stream = self._feed.join(self._asked.job, self._asked.last, self._asked.asker)
        if stream is None:
            busy = await _busy(self._feed, self._asked)
            await busy(scope, receive, send)
            return
        telling = asyncio.ensure_future(self._tell(stream, send))
        leaving = asyncio.ensure_future(_left(receive))
        try:
            await asyncio.wait((telling, leaving), return_when=asyncio.FIRST_COMPLETED)
            if telling.done():
                telling.result()
            else:
                telling.cancel()
                await asyncio.gather(telling, return_exceptions=True)
            await send({"type": "http.response.body", "body": b"", "more_body": False})
        finally:
            for task in (telling, leaving):
                task.cancel()
            await asyncio.gather(telling, leaving, return_exceptions=True)
            self._feed.leave(stream)

    async def _tell(self, stream: _Stream, send: Send) -> None:
        head = [(name.encode(), value.encode()) for name, value in HEADERS.items()]
        await send({"type": "http.response.start", "status": 200, "headers": head})
        async for line in self._feed.lines(stream):
            await send({"type": "http.response.body", "body": line.encode(), "more_body": True})


async def _left(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass


@router.get("/jobs/{job_id}/events")
async def events(request: Request, job_id: int, after: int = 0) -> Response:
    """Tell a page of the events that come after the one it has seen."""
    feed: Feed = request.app.state.feed
    workshop: Workshop = request.app.state.workshop
    await run_in_threadpool(workshop.store.job, job_id)
    seen = number_in(request.headers.get("last-event-id", ""))
    again = "text/event-stream" in request.headers.get("accept", "")
    return _EventStream(
        feed, _Asked(job_id, after if seen is None else seen, _asker(request), again))


def _asker(request: Request) -> Asker:
    actor = actor_of(request)
    person = f"{actor.person} on {actor.device}" if actor.person else ""
    return Asker(person, request.client.host if request.client else "")


async def _busy(feed: Feed, asked: _Asked) -> Response:
    """Answer a page for which there is no stream: what is new now, and when to ask again.

    A browser opens a stream that ended again by itself, after the time it was told.
    """
    if not asked.again:
        return PlainTextResponse(BUSY, 503, {"retry-after": str(ASK_AGAIN_MS // 1000)})
    newest = await feed.newest(asked.job, asked.last)
    text = f"retry: {ASK_AGAIN_MS}\n: {BUSY}\n\n" + (_told(newest) if newest else "")
    return Response(text, headers=HEADERS)
