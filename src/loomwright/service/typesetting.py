"""Records to PDF: everything goes in as JSON data and picture files, so nothing is ever markup."""

from __future__ import annotations

import dataclasses
import json
import re
import threading
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

__all__ = ["breakable", "typeset"]

LONG = re.compile(r"\S{21,}")  # words that may not fit a column
STEP = 10
ZERO_WIDTH_SPACE = "\u200b"
CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
_few_at_a_time = threading.Semaphore(2)  # as the processor; a letter with sixty photos is large


def breakable(text: str) -> str:
    """Return text that breaks into lines anywhere in an endless word, without control signs."""
    plain = CONTROL.sub(" ", text.encode("utf-8", "replace").decode("utf-8"))

    def broken(found: re.Match[str]) -> str:
        word = found[0]
        return ZERO_WIDTH_SPACE.join(word[at: at + STEP] for at in range(0, len(word), STEP))

    return LONG.sub(broken, plain)


def _prepared(value: Any, kept: frozenset[str]) -> Any:
    """Return a value with all its texts breakable, but for the fields named."""
    if isinstance(value, str):
        return breakable(value)
    if isinstance(value, Mapping):
        return {name: item if name in kept else _prepared(item, kept)
                for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [_prepared(item, kept) for item in value]
    return value


def typeset(template: str, record: Any, *, pictures: Mapping[str, bytes] | None = None,
            kept: tuple[str, ...] = ()) -> bytes:
    """Return a frozen record as PDF.

    Parameters
        template: a file of this package
        record: a frozen dataclass; its fields are the template's data
        pictures: files by name that the data names
        kept: fields that are no text to be read, such as a drawing or a file's name
    """
    import typst

    source = (files("loomwright.service") / template).read_bytes()
    data = _prepared(dataclasses.asdict(record), frozenset(kept))
    text = json.dumps(data, ensure_ascii=False)
    with TemporaryDirectory(prefix="loomwright-") as folder:  # all that a template can read
        root = Path(folder)
        for name, content in {"main.typ": source, **(pictures or {})}.items():
            (root / name).write_bytes(content)
        with _few_at_a_time:
            return bytes(typst.compile(
                root / "main.typ", root=root, format="pdf", sys_inputs={"data": text}))
