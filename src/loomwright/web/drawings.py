"""A drawing is sent whole once; a page that holds it is sent what changed in it.

Of a circuit of 55 parts most of a page's bytes, and most of a tablet's work, are its drawing, of
which a reading changes a few marks. A page names the drawing it holds by its content.
"""

from __future__ import annotations

import functools
import hashlib
import re
import threading
from html import escape

__all__ = ["Drawings"]

KEPT = 256  # drawings that pages may still hold
TAG = re.compile(r"<(/?)[a-z][^>]*?(/?)>")  # our own writer escapes '>' in what it quotes
LABEL = re.compile(r' aria-label="([^"]*)"')


class Drawings:
    """The drawings of late, by the hash of their content."""

    def __init__(self) -> None:
        self._kept: dict[str, str] = {}
        self._lock = threading.Lock()

    def to_send(self, drawing: str, held: str = "") -> str:
        """Return a drawing with its name, or only what is not in the drawing that a page holds.

        Changes come as an `svg` of the changed children, with their places in `data-at` and the
        name of the drawing they change in `data-base`.
        """
        name = hashlib.sha256(drawing.encode("utf-8")).hexdigest()[:16]
        with self._lock:
            base = self._kept.get(held, "")
            self._kept.pop(name, None)
            self._kept[name] = drawing
            if len(self._kept) > KEPT:
                self._kept.pop(next(iter(self._kept)))
        changed = _changed(base, drawing) if base else None
        if changed is None:
            return drawing.replace("<svg ", f'<svg data-id="{name}" ', 1)
        label = LABEL.search(_children(drawing)[0])
        said = f' aria-label="{label.group(1)}"' if label else ""
        places = " ".join(str(at) for at, _ in changed)
        return (f'<svg data-id="{name}" data-base="{escape(held)}" data-at="{places}"{said}>'
                + "".join(text for _, text in changed) + "</svg>")


def _changed(base: str, drawing: str) -> list[tuple[int, str]] | None:
    """Return the children that differ with their places, or None where more than that differs."""
    before, after = _children(base), _children(drawing)
    if len(before) != len(after) or LABEL.sub("", before[0]) != LABEL.sub("", after[0]):
        return None
    pairs = zip(before[1:], after[1:], strict=True)
    return [(at, new) for at, (old, new) in enumerate(pairs) if old != new]


@functools.lru_cache(maxsize=64)
def _children(drawing: str) -> tuple[str, ...]:
    """Return the drawing's own tag, then each of its children as text."""
    found, depth, start = [], 0, 0
    for tag in TAG.finditer(drawing):
        closes, alone = tag.group(1), tag.group(2)
        if depth == 0:
            found.append(tag.group())
            start, depth = tag.end(), 1
            continue
        depth += 0 if alone else -1 if closes else 1
        if depth == 1:
            found.append(drawing[start:tag.end()])
            start = tag.end()
    return tuple(found)
