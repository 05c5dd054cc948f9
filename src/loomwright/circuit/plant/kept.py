"""What a plant's predictions came to, in one file, so that the next start need not solve again.

Numbers only: a file is read without running anything in it. Whatever does not read, is out of
range, was written for another name or may be written by others than its reader is no file.
"""

from __future__ import annotations

import json
import os
import stat
import struct
import tempfile
import time
import zipfile
import zlib
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from loomwright.circuit.plant.behaviour import SAMPLES
from loomwright.circuit.plant.predictions import Sample

__all__ = ["Kept", "fits", "read_kept", "write_kept"]

_NUMBERS = ("mean", "noise", "moving", "leaning")
_NEW = ".new-"  # start of the name of a file half written
_HALF_WRITTEN_S = 3600.0  # older ones were left by a process that was killed
_ROUNDING = 1e-6  # of chances that sum to one
# What reading a file cut short, changed or made by something else may raise.
_DAMAGED = (OSError, ValueError, LookupError, TypeError, EOFError, MemoryError, ArithmeticError,
            RuntimeError, struct.error, zipfile.BadZipFile, zlib.error)


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
    """Write it, whole or not at all; OSError where the folder cannot be written.

    Files that a killed process left half written an hour ago or longer are taken away.
    """
    plain = {name: one for name, one in kept.samples.items() if one.levels is None}
    seen = {name: one.levels for name, one in kept.samples.items() if one.levels is not None}
    head = {
        "name": path.stem, "against_ohm": dict(kept.against_ohm), "several": kept.several,
        "groups": kept.groups, "offered": kept.offered, "plain": list(plain),
        "seen": [(name, levels.shape[1]) for name, levels in seen.items()]}
    arrays: dict[str, Any] = {
        name: np.array([getattr(one, name) for one in plain.values()]) for name in _NUMBERS}
    arrays["levels"] = np.concatenate([*seen.values(), np.zeros((_rows(kept), 0))], axis=1)
    arrays["head"] = np.frombuffer(json.dumps(head).encode(), np.uint8)
    path.parent.mkdir(parents=True, exist_ok=True)
    _clear(path.parent)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=_NEW)
    try:
        with os.fdopen(handle, "wb") as file:
            np.savez(file, **arrays)
        Path(name).replace(path)
    finally:
        Path(name).unlink(missing_ok=True)


def _clear(folder: Path) -> None:
    """Take away what was left half written; a file that another is writing now is younger."""
    for file in folder.glob(f"{_NEW}*"):
        try:
            if time.time() - file.stat().st_mtime > _HALF_WRITTEN_S:
                file.unlink()
        except OSError:  # another process was quicker, or it is not ours
            continue


def _rows(kept: Kept) -> int:
    one = next(iter(kept.samples.values()), None)
    return 0 if one is None else len(one.mean)


def read_kept(path: Path) -> Kept | None:
    """Return what a file holds; None where there is none or it is damaged in any way.

    Whether it suits a circuit is for `fits` to say.
    """
    try:
        with path.open("rb") as opened:
            if _open_to_others(os.fstat(opened.fileno())):
                return None
            with np.load(opened, allow_pickle=False) as file:
                arrays = {name: file[name] for name in (*_NUMBERS, "levels", "head")}
        head = json.loads(arrays["head"].tobytes())
        return _kept(head, arrays) if head["name"] == path.stem else None
    except _DAMAGED:
        return None


def _open_to_others(found: os.stat_result) -> bool:
    """Return whether somebody else owns a file or may write it (never told on Windows)."""
    if not hasattr(os, "geteuid"):
        return False
    return found.st_uid != os.geteuid() or bool(found.st_mode & (stat.S_IWGRP | stat.S_IWOTH))


def fits(kept: Kept, elements: Collection[str], cells: int) -> bool:
    """Return whether what was kept can be that of a circuit.

    Parameters
        elements: what its resistances may be in
        cells: its rows before any was split
    """
    rows = 1 + cells - len(kept.several) + len(kept.groups)
    return (set(kept.against_ohm) == set(elements)
            and all(number < cells for number in kept.several)
            and all(len(one.mean) == rows for one in kept.samples.values())
            and set(kept.offered) <= set(kept.samples))


def _kept(head: Mapping[str, Any], arrays: Mapping[str, Any]) -> Kept:
    """Return what a head and its arrays say; ValueError where it is out of range."""
    found = _put_together(head, arrays)
    several, whole = found.several, all(
        np.isfinite(arrays[name]).all() for name in (*_NUMBERS, "levels"))
    draws: dict[int, list[int]] = {number: [] for number in range(len(several))}
    for cell, some in found.groups:
        draws[cell] += some
    sound = (
        whole and (arrays["noise"] >= 0.0).all() and (arrays["levels"] >= 0.0).all()
        and all(ohm > 0.0 for ohm in found.against_ohm.values())
        and all(one >= 0 for one in several) and list(several) == sorted(set(several))
        and all(some for _, some in found.groups)
        and all(sorted(some) == list(range(SAMPLES)) for some in draws.values())
        and all(isinstance(name, str) for name in found.offered)
        and all(np.abs(one.levels.sum(axis=1) - 1.0).max(initial=0.0) < _ROUNDING
                for one in found.samples.values() if one.levels is not None)
    )
    if not sound:
        raise ValueError("out of range")
    return found


def _put_together(head: Mapping[str, Any], arrays: Mapping[str, Any]) -> Kept:
    numbers = zip(*(arrays[name] for name in _NUMBERS), strict=True)
    samples = {name: Sample(mean, noise, moving, None, leaning) for name, (
        mean, noise, moving, leaning) in zip(head["plain"], numbers, strict=True)}
    first, levels = 0, arrays["levels"]
    blank = np.full(len(levels), np.nan)
    for name, width in head["seen"]:
        if first + width > levels.shape[1]:
            raise ValueError("too few levels")
        samples[name] = Sample(blank, blank, blank, levels[:, first:first + width])
        first += width
    shapes = {one.shape for sample in samples.values() for one in (
        sample.mean, sample.noise, sample.moving, sample.leaning) if one is not None}
    if shapes - {(len(levels),)} or first < levels.shape[1]:
        raise ValueError("rows that do not agree")
    groups = tuple((int(cell), tuple(int(one) for one in draws)) for cell, draws in head["groups"])
    against = {str(name): float(ohm) for name, ohm in head["against_ohm"].items()}
    return Kept(against, tuple(int(one) for one in head["several"]), groups,
                tuple(head["offered"]), samples)
