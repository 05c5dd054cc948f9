"""Style sheets, scripts and pictures: read once, compressed once, kept by the browser for good.

Addresses carry a version made of the content of all of them, so that a page asks for none of them
again until the program changes.
"""

from __future__ import annotations

import functools
import gzip
import hashlib
import mimetypes
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.datastructures import Headers, QueryParams
from starlette.responses import PlainTextResponse, Response

from loomwright.service.benches import drawing_css

if TYPE_CHECKING:
    from starlette.types import Receive, Scope, Send

__all__ = ["Assets", "static"]

FOLDER = Path(__file__).parent / "static"
IMPORT = re.compile(r'"\./([a-z]+\.js)"')  # of one of our scripts by another
FOR_GOOD, ASK_AGAIN = "private, max-age=31536000, immutable", "no-cache"


@dataclass(frozen=True, slots=True)
class _Asset:
    """A file as it is sent."""

    plain: bytes
    packed: bytes
    kind: str
    tag: str


@functools.cache
def _texts() -> dict[str, str]:
    found = {one.name: one.read_text(encoding="utf-8") for one in sorted(FOLDER.iterdir())
             if one.is_file()}
    return {**found, "drawing.css": drawing_css()}


@functools.cache
def _version() -> str:
    joined = "\0".join(_texts().values())
    return hashlib.sha256(joined.encode("utf-8")).hexdigest()[:12]


@functools.cache
def _assets() -> dict[str, _Asset]:
    found = {}
    for name, text in _texts().items():
        # with its version too, or the browser would run the same script twice
        text = IMPORT.sub(rf'"./\1?v={_version()}"', text) if name.endswith(".js") else text
        plain = text.encode("utf-8")
        kind = mimetypes.types_map.get(f".{name.rpartition('.')[2]}", "text/plain")
        kind = "text/javascript" if name.endswith(".js") else kind
        tag = f'"{hashlib.sha256(plain).hexdigest()[:16]}"'
        found[name] = _Asset(plain, gzip.compress(plain, mtime=0), kind, tag)
    return found


def static(name: str) -> str:
    """Return the address of a file of ours, with the version of them all."""
    return f"/static/{name}?v={_version()}"


class Assets:
    """ASGI application below /static: our own files by name, and nothing else of the disk."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer with a file, or with 304 where the browser has it."""
        await self._answer(scope)(scope, receive, send)

    def _answer(self, scope: Scope) -> Response:
        if scope["method"] not in {"GET", "HEAD"}:
            return PlainTextResponse("Method Not Allowed", 405)
        found = _assets().get(scope["path"].removeprefix("/static/"))
        if found is None:
            return PlainTextResponse("Not Found", 404)
        asked = QueryParams(scope.get("query_string", b"")).get("v", "")
        headers = {"etag": found.tag, "vary": "accept-encoding",
                   "cache-control": FOR_GOOD if asked == _version() else ASK_AGAIN}
        sent = Headers(scope=scope)
        if found.tag in sent.get("if-none-match", ""):
            return Response(status_code=304, headers=headers)
        if "gzip" in sent.get("accept-encoding", ""):
            headers["content-encoding"] = "gzip"
            return Response(found.packed, media_type=found.kind, headers=headers)
        return Response(found.plain, media_type=found.kind, headers=headers)
