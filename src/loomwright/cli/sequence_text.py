"""How a sequence is shown: as JSON, or as a table of times for people."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loomwright.cli import show

if TYPE_CHECKING:
    from loomwright.circuit.sequences import LoadTime, Moment, SequenceResult

__all__ = ["show_sequence"]

_MOST_ROWS = 80  # of the table; --json has all


def show_sequence(found: SequenceResult, *, as_json: bool) -> None:
    """Print what a sequence did."""
    if as_json:
        show.emit_json(_as_json(found))
        return
    show.heading(f"Sequence: {found.name}, {found.length_s:g} s")
    for note in found.notes:
        show.line(f"note: {note}")
    names = [load.name for load in found.loads if load.times]
    rows = [(f"{one.at_s:.2f} s", one.state, one.why, *(_cell(one, name) for name in names))
            for one in found.moments[:_MOST_ROWS]]
    show.table(("at>", "state", "because", *names), rows)
    if len(found.moments) > _MOST_ROWS:
        show.line(f"{len(found.moments) - _MOST_ROWS} more moments: see --json.")
    show.table(("on", "in all>", "times>", "first>", "last>"), (
        (load.name, f"{load.on_s:.2f} s", str(load.times), _time(load.first_s), _time(load.last_s))
        for load in found.loads))


def _time(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f} s"


def _doing(moment: Moment, name: str) -> str:
    part, _, item = name.partition(".")
    if item:
        return "on" if moment.result.outputs.get(part, {}).get(item) else "off"
    return moment.result.parts[part].doing


def _cell(moment: Moment, name: str) -> str:
    return f"{_doing(moment, name)} (flashes)" if name in moment.flashes else _doing(moment, name)


def _load(load: LoadTime) -> dict[str, object]:
    return {"on_s": load.on_s, "times": load.times, "first_s": load.first_s, "last_s": load.last_s}


def _as_json(found: SequenceResult) -> dict[str, object]:
    """Return the shape of the contract: docs/json.md."""
    return {
        "sequence": found.name, "length_s": found.length_s,
        "steps": [{"state": step.state, "starts_s": start,
                   "for_s": step.for_s if step.until is None else None,
                   "until": None if step.until is None else str(step.until)}
                  for step, start in zip(found.steps, found.starts_s, strict=True)],
        "moments": [_moment(one) for one in found.moments],
        "loads": {load.name: _load(load) for load in found.loads},
        "notes": list(found.notes),
    }


def _moment(one: Moment) -> dict[str, object]:
    result = one.result
    return {
        "at_s": one.at_s, "step": one.step + 1, "state": one.state, "why": one.why,
        "points": {name: {"volts": reading.volts, "floating": reading.floating}
                   for name, reading in result.points.items()},
        "parts": {name: {"doing": part.doing, "amps": part.amps}
                  for name, part in result.parts.items()},
        "outputs": {name: dict(outputs) for name, outputs in result.outputs.items()},
        "parked": dict(one.parked), "flashes": list(one.flashes), "notes": list(result.notes),
    }
