"""Gets the text of a file in a form that is safe to parse: size, encoding, strange characters."""

from __future__ import annotations

import re
from pathlib import Path

from loomwright.circuit.model import Mark
from loomwright.circuit.reader.problems import Problems
from loomwright.errors import UsageError, system_words

__all__ = ["MOST_BYTES", "check_text", "read_text"]

MOST_BYTES = 1_000_000  # far above any real circuit; keeps a wrong file from filling memory
# Control characters, characters that reverse or hide text, and line ends that only YAML counts.
_STRANGE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u200b\u200e\u200f\u2028-\u202e"
                      "\u2060\u2066-\u2069\ufeff\ufffe\uffff\ud800-\udfff]")

_NO_TEXT = re.compile(rb"[\x00-\x08\x0e-\x1f]")  # bytes that no text of any encoding has


def read_text(path: Path) -> str:
    """Return the text of a file.

    Raises
        UsageError: missing, a folder, not readable, or over 1 MB
        FileProblemsError: not UTF-8
    """
    try:
        if path.is_dir():
            raise UsageError(f"'{path}' is a folder.", next_step="Name a file in it.")
        with path.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
    except FileNotFoundError as error:
        raise UsageError(f"There is no file '{path}'.", next_step="Check the path.") from error
    except (OSError, ValueError) as error:  # ValueError: a null character in the path
        raise UsageError(f"'{path}' cannot be read: {system_words(error)}.",
                         next_step="Check the path and its rights.") from error
    if len(raw) > MOST_BYTES:
        raise _too_long(str(path))
    return _decoded(raw, str(path))


def _too_long(file: str) -> UsageError:
    return UsageError(f"'{file}' is over {MOST_BYTES // 1_000_000} MB, the most a file may have.",
                      next_step="Split it, or check that it is the right file.")


def _decoded(raw: bytes, file: str) -> str:
    """Decode UTF-8 with or without its marker; say where the first wrong byte stands."""
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        column = error.start - (before.rfind(b"\n") + 1) + 1
        problems = Problems(file)
        problems.add(Mark(before.count(b"\n") + 1, column), *_not_utf8(raw, error.start))
        problems.stop()
        raise AssertionError("stop raises") from error


def _not_utf8(raw: bytes, start: int) -> tuple[str, str]:
    """Return what a file is instead, as far as its bytes tell, and what to do."""
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "The file is UTF-16 text, not UTF-8.", "Save it as UTF-8 in the editor."
    if _NO_TEXT.search(raw[:4096]):
        return ("The file is no text, but a picture, a spreadsheet or the like.",
                "Check that it is the right file.")
    letter = raw[start: start + 1].decode("cp1252", "replace")
    return (f"The file is not UTF-8 text; in an older encoding '{letter}' would stand here.",
            "Save it as UTF-8 in the editor.")


def check_text(text: str, problems: Problems) -> str:
    """Return the text without a leading marker; raise on strange characters and over-long text."""
    if len(text) > MOST_BYTES:
        raise _too_long(problems.file)
    text = text.removeprefix("\ufeff")
    for found in _STRANGE.finditer(text):
        start = found.start()
        line_start = max(text.rfind("\n", 0, start), text.rfind("\r", 0, start)) + 1
        line = len(re.findall("\r\n|\r|\n", text[:start])) + 1
        problems.add(Mark(line, start - line_start + 1),
                     f"A hidden character (U+{ord(found[0]):04X}) stands here.", "Delete it.")
        if problems.full:
            break
    problems.stop()
    return text
