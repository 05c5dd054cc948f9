"""The predictions of a circuit, kept between two starts of the command.

A file for each circuit, in the folder where a system keeps what can be made again. Its name is a
digest of the circuit, of the program's own files and of what it computes with, so that anything
changed finds no file; a damaged file is no file. Nothing ever depends on it but the time.
"""

from __future__ import annotations

import dataclasses
import hashlib
import os
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loomwright.circuit import CircuitPlant
    from loomwright.circuit.model import Circuit

__all__ = ["cache_folder", "digest_of", "keep", "plant_of"]

_MOST_FILES = 6  # some 12 MB each
_OURS = ("circuit", "data", "plant.py", "units.py")  # what predictions come from


def cache_folder() -> Path | None:
    """Return the folder of kept predictions; None where the system names none."""
    try:
        if sys.platform == "win32":
            base = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
        elif sys.platform == "darwin":
            base = Path.home() / "Library" / "Caches"
        else:
            base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    except RuntimeError:  # nobody's home is known
        return None
    return base / "loomwright" / "predictions" if base.is_absolute() else None


def digest_of(circuit: Circuit) -> str:
    """Return a name for a circuit as this very program predicts it."""
    import numpy as np

    told = hashlib.sha256()
    for line in (*_program(), sys.version, np.__version__, "".join(_words(circuit))):
        told.update(line.encode())
        told.update(b"\0")
    return told.hexdigest()


def _program() -> Iterator[str]:
    """Give name, size and time of every file that predictions come from."""
    root = Path(__file__).parents[1]
    for name in _OURS:
        top = root / name
        for file in sorted(top.rglob("*")) if top.is_dir() else [top]:
            if file.suffix in {".py", ".csv", ".yaml", ".json"}:
                stat = file.stat()
                yield f"{file.relative_to(root)} {stat.st_size} {stat.st_mtime_ns}"


def _words(value: object) -> Iterator[str]:
    """Give a value as text that is the same in every process, whatever order its sets have.

    A mark after the last item of each keeps `((a,), b)` apart from `((a, b),)`.
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        yield type(value).__name__
        for field in dataclasses.fields(value):
            yield f"|{field.name}="
            yield from _words(getattr(value, field.name))
        yield ";"
    elif isinstance(value, Mapping):
        for key, item in value.items():
            yield f"|{key!r}:"
            yield from _words(item)
        yield "}"
    elif isinstance(value, set | frozenset):
        yield from sorted("".join(_words(item)) for item in value)
        yield ">"
    elif isinstance(value, list | tuple):
        for item in value:
            yield ","
            yield from _words(item)
        yield ")"
    else:
        yield repr(value)


def plant_of(circuit: Circuit, folder: Path | None) -> CircuitPlant:
    """Return the plant of a circuit, with what an earlier start kept; None keeps nothing."""
    from loomwright.circuit import CircuitPlant
    from loomwright.circuit.plant.kept import read_kept

    if folder is None:
        return CircuitPlant(circuit)
    return CircuitPlant(circuit, read_kept(folder / f"{digest_of(circuit)}.npz"))


def keep(plant: CircuitPlant, folder: Path | None) -> None:
    """Keep what a plant predicts, and leave only the newest files; a folder that cannot be
    written keeps nothing."""
    from loomwright.circuit.plant.kept import write_kept

    if folder is None:
        return
    path = folder / f"{digest_of(plant.circuit)}.npz"
    try:
        if plant.from_kept:
            path.touch()  # used: the newest
            return
        write_kept(path, plant.to_keep())
        files = sorted(folder.glob("*.npz"), key=lambda file: file.stat().st_mtime, reverse=True)
        for file in files[_MOST_FILES:]:
            file.unlink(missing_ok=True)
    except OSError:
        return
