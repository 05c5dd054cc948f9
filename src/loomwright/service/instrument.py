"""What a reading as typed tells of the instrument: its smallest step, its accuracy."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from loomwright.errors import UsageError
from loomwright.units import parse_quantity

if TYPE_CHECKING:
    from loomwright.circuit.remarks import MeterRemark
    from loomwright.diagnosis.records import Evidence
    from loomwright.plant import Check

__all__ = ["as_shown", "typed_step", "with_meter"]

_NUMBER = re.compile(r"\s*[-+]?\d*[.,]?(\d*)\s*(\D.*)$")
_STEPPED = {"voltage", "current"}  # ohms are compared on a scale of their own


def typed_step(check: Check, text: str) -> float:
    """Return the step of the display that a typed value tells [the check's unit], 0 if none.

    '11.9 V' was read to a tenth. Zero without decimals says nothing: people type it short.
    """
    found = _NUMBER.match(text)
    if found is None or check.levels or check.quantity not in _STEPPED:
        return 0.0
    try:
        if parse_quantity(text, check.unit) == 0.0 and not found[1]:
            return 0.0
        digits = len(found[1])
        return parse_quantity(f"{10.0 ** -digits:.{digits}f} {found[2].strip()}", check.unit)
    except UsageError:
        return 0.0


def as_shown(evidence: Sequence[Evidence], texts: Sequence[str]) -> tuple[Evidence, ...]:
    """Return evidence whose checks have the step of the display, as the typed texts tell.

    A finer step than the check's own is not believed. Repeats of one check share the coarsest.
    """
    steps: dict[str, float] = {}
    for item, text in zip(evidence, texts, strict=True):
        step = max(typed_step(item.check, text), item.check.resolution)
        steps[item.check.id] = max(steps.get(item.check.id, 0.0), step)
    return tuple(
        item if steps[item.check.id] <= item.check.resolution else dataclasses.replace(
            item, check=dataclasses.replace(item.check, resolution=steps[item.check.id]))
        for item in evidence)


def with_meter(evidence: Sequence[Evidence], meter: MeterRemark) -> tuple[Evidence, ...]:
    """Return evidence whose volts were read with the meter told of: accuracy and step."""
    def told(check: Check) -> Check:
        if check.levels or check.quantity != "voltage":
            return check
        step = check.resolution if meter.step_v is None else meter.step_v
        accuracy = check.accuracy if meter.accuracy is None else meter.accuracy
        return dataclasses.replace(check, resolution=step, accuracy=accuracy)

    return tuple(dataclasses.replace(item, check=told(item.check)) for item in evidence)
