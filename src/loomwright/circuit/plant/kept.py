"""What a plant's predictions came to, in one file, so that the next start need not solve again.

Numbers only: a file is read without running anything in it, and whatever does not read is no file.
"""

from __future__ import annotations

import json
import os
import tempfile
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from loomwright.circuit.plant.predictions import Sample

__all__ = ["Kept", "read_kept", "write_kept"]

_NUMBERS = ("mean", "noise", "moving")
# What reading a file cut short, changed or made by something else may raise.
_DAMAGED = (OSError, ValueError, LookupError, TypeError, EOFError, MemoryError,
            NotImplementedError, zipfile.BadZipFile, zlib.error)


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """What was solved: rows by how they were split, the checks offered, readings by check id.

    `against_ohm` is what each element works against; `several` the numbers of the cells that were
    split and `groups` the draws of their parts; `offered` the ids of the checks worth offering.
    """

    against_ohm: Mapping[str, float]
    several: tuple[int, ...]
    groups: tuple[tuple[int, tuple[int, ...]], ...]
    offered: tuple[str, ...]
    samples: Mapping[str, Sample]


def write_kept(path: Path, kept: Kept) -> None:
    """Write it, whole or not at all; OSError where the folder cannot be written."""
    plain = {name: one for name, one in kept.samples.items() if one.levels is None}
    seen = {name: one.levels for name, one in kept.samples.items() if one.levels is not None}
    head = {
        "against_ohm": dict(kept.against_ohm), "several": kept.several, "groups": kept.groups,
        "offered": kept.offered, "plain": list(plain),
        "seen": [(name, levels.shape[1]) for name, levels in seen.items()]}
    arrays: dict[str, Any] = {
        name: np.array([getattr(one, name) for one in plain.values()]) for name in _NUMBERS}
    arrays["levels"] = np.concatenate([*seen.values(), np.zeros((_rows(kept), 0))], axis=1)
    arrays["head"] = np.frombuffer(json.dumps(head).encode(), np.uint8)
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".new-")
    try:
        with os.fdopen(handle, "wb") as file:
            np.savez(file, **arrays)
        Path(name).replace(path)
    finally:
        Path(name).unlink(missing_ok=True)


def _rows(kept: Kept) -> int:
    one = next(iter(kept.samples.values()), None)
    return 0 if one is None else len(one.mean)


def read_kept(path: Path) -> Kept | None:
    """Return what a file holds; None where there is none or it is damaged in any way."""
    try:
        with path.open("rb") as opened, np.load(opened, allow_pickle=False) as file:
            arrays = {name: file[name] for name in (*_NUMBERS, "levels", "head")}
        return _kept(json.loads(arrays["head"].tobytes()), arrays)
    except _DAMAGED:
        return None


def _kept(head: Mapping[str, Any], arrays: Mapping[str, Any]) -> Kept:
    numbers = zip(*(arrays[name] for name in _NUMBERS), strict=True)
    samples = {name: Sample(*row) for name, row in zip(head["plain"], numbers, strict=True)}
    first, levels = 0, arrays["levels"]
    blank = np.full(len(levels), np.nan)
    for name, width in head["seen"]:
        if first + width > levels.shape[1]:
            raise ValueError("too few levels")
        samples[name] = Sample(blank, blank, blank, levels[:, first:first + width])
        first += width
    if any(len(one.mean) != len(levels) for one in samples.values()):
        raise ValueError("rows that do not agree")
    groups = tuple((int(cell), tuple(int(one) for one in draws)) for cell, draws in head["groups"])
    return Kept(dict(head["against_ohm"]), tuple(head["several"]), groups, tuple(head["offered"]),
                samples)
