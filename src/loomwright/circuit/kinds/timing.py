"""Keys of what lags its command: delays, a limit of time, flashing, and a lamp that is out."""

from __future__ import annotations

from pydantic import BaseModel

from loomwright.circuit.kinds.base import Amps, Seconds
from loomwright.circuit.model import Part, Timing

__all__ = ["TIMING_KEYS", "TimingKeys", "timing_of", "timing_read"]

TIMING_KEYS = ("delay_on", "delay_off", "on_at_most", "flash_period", "fast_period",
               "lamp_out_below")


class TimingKeys(BaseModel):
    """Keys of timing, the same for a relay and for a controller output."""

    delay_on: Seconds | None = None
    delay_off: Seconds | None = None
    on_at_most: Seconds | None = None
    flash_period: Seconds | None = None
    fast_period: Seconds | None = None  # while a lamp is out
    lamp_out_below: Amps | None = None


def timing_read(keys: TimingKeys) -> Timing:
    """Return the timing that keys of the file state.

    Raises
        ValueError: a fast period without what it depends on, or a limit within the delay
    """
    if keys.fast_period and not (keys.flash_period and keys.lamp_out_below):
        raise ValueError("'fast period' needs 'flash period' and 'lamp out below'.")
    return Timing(keys.delay_on or 0.0, keys.delay_off or 0.0, keys.on_at_most or 0.0,
                  keys.flash_period or 0.0, keys.fast_period or 0.0, keys.lamp_out_below or 0.0)


def timing_of(part: Part) -> Timing:
    """Return a part's own timing; a part without any follows at once."""
    found = part.params.get("timing")
    return found if isinstance(found, Timing) else Timing()
