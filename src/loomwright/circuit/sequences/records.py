"""What a sequence did: moments at which something changed, and how long each load was on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from loomwright.circuit.model import StateResult, Step

__all__ = ["LoadTime", "Moment", "SequenceResult"]


@dataclass(frozen=True, slots=True)
class Moment:
    """The circuit from `at_s` on until the next moment, and why it came.

    `parked` gives each parked word's truth, `flashes` what is flashing (also in its dark half).
    """

    at_s: float
    step: int
    state: str
    why: str
    result: StateResult
    parked: Mapping[str, bool]
    flashes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LoadTime:
    """How long a load, relay or output was not off in all, how often it came on, when first, last.

    `first_s` and `last_s` are None where it never was on.
    """

    name: str
    on_s: float
    times: int
    first_s: float | None
    last_s: float | None


@dataclass(frozen=True, slots=True)
class SequenceResult:
    """A sequence, with when each step began, its moments, and how long it took."""

    name: str
    steps: tuple[Step, ...]
    starts_s: tuple[float, ...]
    moments: tuple[Moment, ...]
    loads: tuple[LoadTime, ...]
    length_s: float
    notes: tuple[str, ...] = ()
