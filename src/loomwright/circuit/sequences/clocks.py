"""Clocks of what lags its command: a relay or output with a delay, a limit of time, a flash."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

from loomwright.circuit.model import Timing

__all__ = ["EVENT_S", "Clock", "commanded", "moved", "next_event_s", "stopped"]

EVENT_S = 1e-9  # events closer together than this are one


@dataclass(frozen=True, slots=True)
class Clock:
    """One clock.

    `phase` is rest, waiting (for the delay on), active, or ending (the delay off runs);
    `since_s` when it began, `active_s` when the contact first could close, `edge_s` the last
    change of the flash, `spent` that its longest time is over.
    """

    timing: Timing
    phase: str = "rest"
    since_s: float = 0.0
    active_s: float = 0.0
    edge_s: float = 0.0
    lit: bool = True
    spent: bool = False

    @property
    def on(self) -> bool:
        """Return whether the contact or output is on."""
        return self.active and self.lit

    @property
    def active(self) -> bool:
        """Return whether it is on, or in the dark half of its flash."""
        return self.phase in {"active", "ending"} and not self.spent


def commanded(clock: Clock, wish: bool, now_s: float) -> Clock:
    """Return the clock once the command is as `wish`; delays of nothing pass at once."""
    if wish and clock.phase == "rest":
        return moved(dataclasses.replace(clock, phase="waiting", since_s=now_s), now_s, False)
    if wish and clock.phase == "ending":
        return dataclasses.replace(clock, phase="active")
    if not wish and clock.phase == "waiting":
        return stopped(clock)
    if not wish and clock.phase == "active":
        return moved(dataclasses.replace(clock, phase="ending", since_s=now_s), now_s, False)
    return clock


def stopped(clock: Clock) -> Clock:
    """Return the clock at rest: its supply has gone, or its time is over."""
    return Clock(clock.timing)


def next_event_s(clock: Clock, fast: bool) -> float:
    """Return when the clock does something by itself next; infinite where it does not.

    Parameters
        fast: a lamp is out, so that it flashes in the fast period
    """
    timing, times = clock.timing, [math.inf]
    if clock.phase == "waiting":
        times.append(clock.since_s + timing.delay_on_s)
    if clock.phase == "ending":
        times.append(clock.since_s + timing.delay_off_s)
    if clock.active and timing.at_most_s:
        times.append(clock.active_s + timing.at_most_s)
    if clock.active and timing.flash_s:
        times.append(clock.edge_s + _period_s(timing, fast) / 2)
    return min(times)


def moved(clock: Clock, now_s: float, fast: bool) -> Clock:
    """Return the clock after everything that is due by now."""
    timing, due = clock.timing, now_s + EVENT_S
    if clock.phase == "waiting" and clock.since_s + timing.delay_on_s <= due:
        clock = dataclasses.replace(clock, phase="active", since_s=now_s, active_s=now_s,
                                    edge_s=now_s, lit=True)
    if clock.phase == "ending" and clock.since_s + timing.delay_off_s <= due:
        return stopped(clock)
    if clock.active and timing.at_most_s and clock.active_s + timing.at_most_s <= due:
        clock = dataclasses.replace(clock, spent=True)
    if clock.active and timing.flash_s and clock.edge_s + _period_s(timing, fast) / 2 <= due:
        clock = dataclasses.replace(clock, edge_s=now_s, lit=not clock.lit)
    return clock


def _period_s(timing: Timing, fast: bool) -> float:
    return timing.fast_s if fast and timing.fast_s else timing.flash_s
