"""The answer to "Why is this output off?" as records that can say themselves in plain words."""

from __future__ import annotations

from dataclasses import dataclass

from loomwright.circuit.logic import Change
from loomwright.circuit.model import PointReading
from loomwright.units import format_quantity

__all__ = ["CAUSES", "InputCause", "PointCheck", "Trace", "WhyOff", "shown_volts"]

_SMALL_V = 0.02  # against 12 or 24 V this is nothing
CAUSES = ("on", "rule", "supply", "earth", "controller", "driver")


def shown_volts(reading: PointReading | None) -> str:
    """Return what a meter shows, in words where it shows nothing of use."""
    if reading is None:
        return "not known"
    if reading.floating:
        return "floating, about 0 V"
    small = abs(reading.volts) < _SMALL_V
    return "about 0 V" if small else format_quantity(reading.volts, "V")


@dataclass(frozen=True, slots=True)
class PointCheck:
    """A point on a way: what is crossed to reach it, what it should read and what it reads now.

    Volts are against the battery's negative post, as a 10 Mohm meter shows them.
    """

    point: str
    via: str  # the wire or part crossed, '' at the start
    via_text: str
    place: str
    expected: PointReading | None
    now: PointReading | None
    differs: bool

    def text(self) -> str:
        """Return the point as one line: how to get there, what to expect there."""
        way = f"through {self.via_text} to " if self.via else ""
        where = f" ({self.place})" if self.place else ""
        if self.expected is None and self.now is None:
            return f"{way}{self.point}{where}"
        same = self.now is None or self.now == self.expected
        now = "" if same else f"; now {shown_volts(self.now)}"
        return f"{way}{self.point}{where}: {shown_volts(self.expected)} when it works{now}"


@dataclass(frozen=True, slots=True)
class Trace:
    """A way from a controller's pin to the supply or the earth, with what to expect on it."""

    start: str
    goal: str  # 'supply' or 'earth'
    points: tuple[PointCheck, ...]
    as_in: str  # the state the expected volts are of, '' where no state works
    lost: str = ""  # where the volts leave the expected ones, in words

    def text(self) -> tuple[str, ...]:
        """Return the way as lines, the start first."""
        if not self.points:
            return (f"Nothing in the circuit file leads from {self.start} to the {self.goal}.",)
        by = f", volts as in {self.as_in}" if self.as_in else ""
        head = f"Follow it from {self.start} back to the {self.goal}{by}:"
        lines = [head, *(f"  {point.text()}" for point in self.points)]
        return (*lines, self.lost) if self.lost else tuple(lines)


@dataclass(frozen=True, slots=True)
class InputCause:
    """Something that a rule reads and that must change: an input, or a condition of the state."""

    change: Change
    pin: str  # '' for a condition
    what: str  # one sentence
    trace: Trace | None = None

    def text(self) -> tuple[str, ...]:
        """Return the sentence and the way to follow."""
        return (self.what, *(self.trace.text() if self.trace else ()))


@dataclass(frozen=True, slots=True)
class WhyOff:
    """Why an output is off in a state.

    `cause` is one of CAUSES: on (it is not off), rule, supply or earth (of the controller),
    controller (it has both and does nothing), driver (commanded but the pin does not follow).
    `ways` are all smallest sets of changes that make the rule hold.
    """

    output: str
    state: str
    cause: str
    summary: str
    rule: str
    ways: tuple[tuple[Change, ...], ...] = ()
    inputs: tuple[InputCause, ...] = ()
    traces: tuple[Trace, ...] = ()  # of the controller's supply and earth, or of the load
    notes: tuple[str, ...] = ()

    def text(self) -> tuple[str, ...]:
        """Return the whole answer in plain words, line by line."""
        lines = [self.summary, *self._ways()]
        for item in self.inputs:
            lines.extend(item.text())
        for trace in self.traces:
            lines.extend(trace.text())
        return (*lines, *self.notes)

    def _ways(self) -> tuple[str, ...]:
        """Return what would make the rule hold."""
        shown = [" and ".join(change.text() for change in way) for way in self.ways if way]
        if not shown:
            return ()
        if len(shown) == 1:
            return (f"It turns on with: {shown[0]}.",)
        return ("Any one of these turns it on:",
                *(f"  {number}. {way}" for number, way in enumerate(shown, 1)))
