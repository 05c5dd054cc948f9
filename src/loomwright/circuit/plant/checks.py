"""Every reading one could take on a circuit, as check records: place, minutes, words."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from loomwright.circuit.kinds.switch import rule_of
from loomwright.circuit.model import BODY, ISOLATED, Circuit, Part
from loomwright.circuit.plant.alternating import AC_PAIRS, turns_in
from loomwright.circuit.plant.instruments import (
    BUZZER_BELOW_OHM,
    LAMPS,
    OPEN_LINE_OHM,
    instrument_for,
    levels_for,
)
from loomwright.circuit.plant.names import (
    base_state,
    battery_negative,
    controller_items,
    ends_of,
    fuses_out,
    heard_parts,
    is_body,
    known_point,
    load_quantity,
    loads,
    nearest_earth,
    point_text,
    series_pairs,
    turned_parts,
)
from loomwright.circuit.plant.stirring import known_action, stir_minutes
from loomwright.circuit.rules import is_yes
from loomwright.errors import UnknownNameError, UsageError
from loomwright.plant import ACTIONS, Check

__all__ = ["ISOLATED_QUANTITIES", "CheckMaker"]

ISOLATED_QUANTITIES = ("resistance", "continuity", "turns")
# Minutes, all assumed: common practice, no time study behind them.
_ISOLATE_MIN = 3.0
_SET_STATE_MIN = 0.5
_SPLICE_MIN = 4.0  # find the splice in the loom, untape it, tape it again
_BACK_PROBE_MIN = 0.5
_LONG_LEAD_MIN = 1.0  # the two probes are in different places
_DROP_EXTRA_MIN = 0.5
_LOOK_MIN = 0.3
_UNPLUG_MIN = 2.0  # both ends of one wire
_STILL_IN_MIN = 0.5  # an ammeter that stays in while fuses are pulled
_MOST_AC_V = 200.0  # of a stator at full speed, for the span of wrong readings
_DRAIN_STEP_A = 0.001  # its step on a range for what a parked vehicle takes


@dataclass(frozen=True, slots=True)
class CheckMaker:
    """Makes the check records of one circuit. `place_min` are minutes to reach each place."""

    circuit: Circuit
    place_min: Mapping[str, float] = field(default_factory=dict)

    def setups(self) -> dict[str, float]:
        """Return minutes to bring the vehicle into each state, and to isolate the circuit."""
        given = self.circuit.minutes_to_set
        found = {state: given.get(state, _SET_STATE_MIN) for state in self.circuit.states}
        return {**found, ISOLATED: given.get(ISOLATED, _ISOLATE_MIN)}

    # --- any reading somebody took ---------------------------------------------------------

    def make(self, state: str, quantity: str, at: str, to: str = "", instrument: str = "meter"
             ) -> Check:
        """Return the check that a reading answers.

        Raises
            UnknownNameError: no such state, quantity, point, part or controller item
            UsageError: the quantity cannot be taken there or with that instrument
        """
        tool = instrument_for(quantity, instrument)
        state = self._state(state, quantity)
        if quantity in {"input", "output"}:
            return self._listed(state, quantity, at)
        if quantity in {"lit", "running"}:
            doing = to if to.partition(" ")[0] in ACTIONS else ""  # a point says nothing of a look
            return self._seen(state, quantity, at, doing)
        if quantity == "heard":
            return self._heard(state, at)
        if quantity == "turns":
            return self._turned(at)
        if quantity == "current":
            return self._current(state, at, tool.name)
        if quantity == "ac voltage":
            return self._alternating(state, at, to)
        if quantity == "resistance" and at in self.circuit.wires and to:
            return self._bare(state, at, known_point(self.circuit, to))
        return self._between(state, quantity, self._points(quantity, at, to), tool.name)

    def _state(self, state: str, quantity: str) -> str:
        if quantity in ISOLATED_QUANTITIES and state in {"", ISOLATED}:
            return base_state(self.circuit)
        if state not in self.circuit.states:
            raise UnknownNameError("state", state, self.circuit.states)
        return state

    def _points(self, quantity: str, at: str, to: str) -> tuple[str, str]:
        """Return the two probe points; an element alone stands for its two sides."""
        circuit = self.circuit
        negative = battery_negative(circuit)
        is_point = at in circuit.points() or is_body(circuit, at)
        if to or (is_point and quantity == "voltage"):
            first, second = known_point(circuit, at), known_point(circuit, to or negative)
        elif (ends := ends_of(circuit, at)) is not None:
            first, second = ends
        elif is_point:
            first, second = known_point(circuit, at), negative
        else:
            raise self._no_place(at)
        if first == second:
            raise UsageError(f"Both probes are on {first}.", next_step="Name two points.")
        return first, second

    def _no_place(self, at: str) -> UsageError:
        part = self.circuit.parts.get(at)
        if part is not None:
            return UsageError(
                f"{at} has {len(part.pins)} pins, so '{at}' alone names no reading.",
                next_step=f"Name a point: {', '.join(part.points())}.",
            )
        known = [*self.circuit.points(), *self.circuit.wires, *self.circuit.parts]
        return UnknownNameError("point, wire or part", at, known)

    # --- one record of each sort -------------------------------------------------------------

    def _between(self, state: str, quantity: str, points: tuple[str, str], instrument: str
                 ) -> Check:
        tool = instrument_for(quantity, instrument)
        at, to = points
        negative = battery_negative(self.circuit)
        levels = levels_for(quantity, instrument)
        risk, extra = self._access(at)
        second_risk, second_extra = (0, 0.0) if to == negative else self._access(to)
        place = self._place(at, to if to != negative else "")
        apart = to != negative and self.circuit.place_of(at) != self.circuit.place_of(to)
        drop = quantity == "voltage" and to != negative
        minutes = (tool.minutes + max(extra, second_extra) + _LONG_LEAD_MIN * apart
                   + _DROP_EXTRA_MIN * drop)
        isolated = quantity in ISOLATED_QUANTITIES
        opened, opening_min = max(((at, extra), (to, second_extra)), key=lambda one: one[1])
        return Check(
            id=_id(quantity, state, at, to, instrument if instrument in LAMPS else ""),
            state=state, quantity=quantity, at=at, to=to, instrument=instrument, unit=tool.unit,
            place=place, setup=ISOLATED if isolated else state, minutes=minutes,
            risk=max(risk, second_risk), resolution=tool.resolution or 0.01,
            accuracy=tool.accuracy, span=self._span(quantity), levels=levels,
            text=self._between_text(state, quantity, points, instrument),
            offer=instrument == "meter", opened=opened if opening_min else "",
            opening_min=opening_min,
        )

    def _between_text(self, state: str, quantity: str, points: tuple[str, str], instrument: str
                      ) -> str:
        at, to = (point_text(self.circuit, point) for point in points)
        if quantity in ISOLATED_QUANTITIES:
            how = "Ohms" if quantity == "resistance" else \
                f"Continuity (buzzer below {BUZZER_BELOW_OHM:g} ohm (assumed))"
            settings = self.circuit.states[state]
            held = "" if not settings else f", switches as in state '{state}'"
            return f"{how} across {at} and {to}, battery disconnected{held}"
        tool = instrument[0].upper() + instrument[1:] if instrument in LAMPS else "Meter"
        return f"{tool} across {at} and {to}, state '{state}'"

    def _span(self, quantity: str) -> tuple[float, float]:
        if quantity == "resistance":
            return 0.0, OPEN_LINE_OHM
        return -1.2 * self.circuit.system_v, 1.4 * self.circuit.system_v

    def _bare(self, state: str, wire_id: str, to: str) -> Check:
        """Return the leak of one wire with both its ends unplugged, to earth or to the battery."""
        wire, circuit = self.circuit.wires[wire_id], self.circuit
        negative = battery_negative(circuit)
        positive = f"{negative.split('.', 1)[0]}.+"
        if to not in (negative, positive) and circuit.parts[to.split(".", 1)[0]].kind != "earth":
            raise UsageError(f"An unplugged wire is measured to earth or {positive}, not to {to}.",
                             next_step=f"Use an earth point, {negative} or {positive}.")
        tool = instrument_for("resistance", "meter")
        ends_here = [wire.start.point, *([wire.end.point] if wire.end is not None else [])]
        reached = [self._access(point) for point in ends_here]
        opening_min = _UNPLUG_MIN + sum(extra for _, extra in reached)
        return Check(
            id=_id("resistance", state, wire_id, to), state=state, quantity="resistance",
            at=wire_id, to=to, instrument="meter", unit="ohm", place=self._place(*ends_here[:2])
            if len(ends_here) > 1 else circuit.place_of(ends_here[0]), setup=ISOLATED,
            minutes=tool.minutes + opening_min, opened=wire_id, opening_min=opening_min,
            risk=max(risk for risk, _ in reached), resolution=tool.resolution,
            accuracy=tool.accuracy, span=self._span("resistance"),
            text=f"Ohms from wire {wire_id} ({' to '.join(ends_here)}), both ends unplugged, to "
                 f"{point_text(circuit, to)}, battery disconnected",
        )

    def _access(self, point: str) -> tuple[int, float]:
        """Return risk and extra minutes of getting a probe onto a point."""
        if point == BODY and is_body(self.circuit, point):
            return 0, 0.0
        part = self.circuit.parts[point.split(".", 1)[0]]
        if part.kind == "splice":
            return 2, _SPLICE_MIN
        if part.kind in {"connector", "controller"}:
            return 1, _BACK_PROBE_MIN
        return 0, 0.0

    def _place(self, at: str, to: str) -> str:
        places = [self.circuit.place_of(point) for point in (at, to) if point]
        return max(places, key=lambda place: self.place_min.get(place, 0.0))

    def _current(self, state: str, at: str, instrument: str) -> Check:
        part = self.circuit.parts.get(at)
        if part is not None and part.kind == "battery":
            return self._drain(state, at, instrument)
        if at not in self.circuit.wires:
            at = self._wire_of(at)
        wire = self.circuit.wires[at]
        tool = instrument_for("current", instrument)
        places = [self.circuit.place_of(wire.start.point)]
        places += [self.circuit.place_of(wire.end.point)] if wire.end is not None else []
        return Check(
            id=_id("current", state, at, "", instrument if instrument == "meter" else ""),
            state=state, quantity="current", at=at, instrument=instrument, unit="A",
            place=min(places, key=lambda place: self.place_min.get(place, 0.0)), setup=state,
            minutes=tool.minutes, resolution=tool.resolution, accuracy=tool.accuracy,
            span=(-500.0, 500.0), offer=instrument == "clamp",
            text=f"{'Clamp round' if instrument == 'clamp' else 'Ammeter in'} wire {at} "
                 f"({wire.start.point} to {wire.end.point if wire.end else 'unknown'}), "
                 f"state '{state}'",
        )

    def _drain(self, state: str, battery: str, instrument: str) -> Check:
        """Return all that a battery gives: an ammeter in series, or a clamp round its leads."""
        tool, out = instrument_for("current", instrument), fuses_out(self.circuit, state)
        places = [self.circuit.place_of(name) for name in (battery, *out)]
        meter = instrument == "meter"
        how = "Ammeter between battery" if meter else "Clamp round all leads of battery"
        return Check(
            id=_id("current", state, battery, "", "meter" if meter else ""), state=state,
            quantity="current", at=battery, instrument=instrument, unit="A",
            place=max(places, key=lambda place: self.place_min.get(place, 0.0)), setup=state,
            minutes=_STILL_IN_MIN if meter and out else tool.minutes,
            resolution=_DRAIN_STEP_A if meter else tool.resolution, accuracy=tool.accuracy,
            span=(-500.0, 500.0), offer=meter,
            text=f"{how} {battery}{' and its lead, nothing switched on meanwhile' if meter else ''}"
                 f"{f', {_listed(out)} pulled' if out else ''}, state '{state}'",
        )

    def _parked(self) -> Iterator[str]:
        """Give the states in which fuses are pulled one by one, and those they are pulled in."""
        states = self.circuit.states
        pulled = [name for name in states if fuses_out(self.circuit, name)]
        rest = [{word: value for word, value in states[name].items()
                 if word not in fuses_out(self.circuit, name)} for name in pulled]
        for name, conditions in states.items():
            if name in pulled or conditions in rest:
                yield name

    def _alternating(self, state: str, at: str, to: str) -> Check:
        """Return the alternating volts between two pins of a stator, its plug pulled."""
        circuit = self.circuit
        first, second = known_point(circuit, at), known_point(circuit, to or at)
        part = circuit.parts[first.split(".", 1)[0]]
        if part.kind != "stator" or first == second or second.split(".", 1)[0] != part.id:
            pins = [point for one in circuit.parts.values() if one.kind == "stator"
                    for point in one.points()]
            raise UsageError("Alternating volts are read between two pins of one stator.",
                             next_step=f"Name two of: {', '.join(pins) or 'there is none here'}.")
        tool = instrument_for("ac voltage", "meter")
        return Check(
            id=_id("ac voltage", state, first, second), state=state, quantity="ac voltage",
            at=first, to=second, instrument="meter", unit=tool.unit, place=part.place,
            setup=state, minutes=tool.minutes, risk=1, resolution=tool.resolution,
            accuracy=tool.accuracy, span=(0.0, _MOST_AC_V),
            text=f"Meter on alternating volts across {point_text(circuit, first)} and "
                 f"{point_text(circuit, second)}, the plug of {part.id} pulled, state '{state}'",
        )

    def _wire_of(self, name: str) -> str:
        """Return the only wire at a point or part; several are an error that names them."""
        circuit = self.circuit
        if name not in circuit.parts and name not in circuit.points():
            raise UnknownNameError("wire or part", name, [*circuit.wires, *circuit.parts])
        ends_here = [
            wire.id for wire in circuit.wires.values()
            if any(end is not None and name in (end.part, end.point)
                   for end in (wire.start, wire.end))
        ]
        part = circuit.parts.get(name)
        if len(ends_here) == 1 or (ends_here and part is not None and len(part.pins) == 2):
            return ends_here[0]
        raise UsageError(
            f"Current at {name} is not one current.",
            next_step=f"Name a wire: {', '.join(ends_here) or 'none ends there'}.",
        )

    def _seen(self, state: str, quantity: str, at: str, doing: str = "") -> Check:
        part = self.circuit.parts.get(at)
        if part is None:
            raise UnknownNameError("part", at, self.circuit.parts)
        right = load_quantity(part.kind)  # 'running' of a lamp is taken as 'lit'
        if right is None:
            known = ", ".join(one.id for one, _ in loads(self.circuit)) or "none"
            raise UsageError(f"{at} is a {part.kind}: nothing of it can be seen or heard working.",
                             next_step=f"Parts that can: {known}.")
        place, also_from = self._seen_from(part, part.place)
        look = Check(
            id=_id(right, state, at), state=state, quantity=right, at=at, instrument="eye",
            place=place, setup=state, minutes=_LOOK_MIN, levels=levels_for(right, "eye"),
            also_from=also_from,
            text=f"Look whether {point_text(self.circuit, at)} is "
                 f"{'lit' if right == 'lit' else 'working'}, state '{state}'",
        )
        return self._stirred(look, doing) if doing else look

    def _seen_from(self, part: Part, place: str) -> tuple[str, tuple[str, ...]]:
        """Return the place from where a part is seen quickest, and the others."""
        places = dict.fromkeys((place, *part.seen_from))
        best = min(places, key=lambda name: self.place_min.get(name, 0.0))
        return best, tuple(name for name in places if name != best)

    def _stirred(self, look: Check, doing: str) -> Check:
        """Return a look while something is wiggled, heated or loaded; that is where one works."""
        action, at = known_action(self.circuit, doing)
        where = point_text(self.circuit, at) if at else "the whole circuit"
        place = self.circuit.place_of(at) if at else look.place
        apart = _LONG_LEAD_MIN  # somebody else looks
        if place in (look.place, *look.also_from):
            apart = 0.0
        return dataclasses.replace(
            look, id=f"{look.id}:{doing}", to=doing, place=place,
            also_from=() if at else look.also_from,
            minutes=_LOOK_MIN + stir_minutes(doing) + apart,
            text=f"{action.capitalize()} {where} and {look.text[0].lower()}{look.text[1:]}")

    def _heard(self, state: str, at: str) -> Check:
        circuit = self.circuit
        if at not in circuit.parts:
            raise UnknownNameError("part", at, circuit.parts)
        known = {part.id: offer for part, offer in heard_parts(circuit)}
        if at not in known:
            raise UsageError(f"{at} is a {circuit.parts[at].kind}: nothing in it clicks.",
                             next_step=f"Parts that do: {', '.join(known) or 'none'}.")
        when = "the supply is joined" if state == base_state(circuit) else f"state '{state}' is set"
        return Check(
            id=_id("heard", state, at), state=state, quantity="heard", at=at, instrument="ear",
            place=circuit.parts[at].place, setup=state, offer=known[at],
            minutes=instrument_for("heard", "ear").minutes, levels=levels_for("heard", "ear"),
            text=f"Listen at {point_text(circuit, at)}, or lay a finger on it, while {when}",
        )

    def _turned(self, at: str) -> Check:
        """Return the turning of a motor by hand: the battery is off, since it could start."""
        circuit, state = self.circuit, base_state(self.circuit)
        if at not in circuit.parts:
            raise UnknownNameError("part", at, circuit.parts)
        known = [part.id for part in turned_parts(circuit)]
        if at not in known:
            raise UsageError(f"{at} is a {circuit.parts[at].kind} that no hand turns.",
                             next_step=f"Parts that a hand does: {', '.join(known) or 'none'}.")
        return Check(
            id=_id("turns", state, at), state=state, quantity="turns", at=at, instrument="hand",
            place=circuit.place_of(at), setup=ISOLATED,
            minutes=instrument_for("turns", "hand").minutes, risk=1,
            levels=levels_for("turns", "hand"),
            text=f"Turn what {point_text(circuit, at)} drives by hand, battery disconnected: it "
                 "could start by itself",
        )

    def _listed(self, state: str, quantity: str, at: str) -> Check:
        items = {f"{part.id}.{name}": part for part, sort, name in controller_items(self.circuit)
                 if sort == quantity}
        short = [name for name in items if name.split(".", 1)[1] == at]
        name = short[0] if at not in items and len(short) == 1 else at
        if name not in items:
            raise UnknownNameError(f"controller {quantity}", at, items)
        place, also_from = self._seen_from(items[name], self._panel(items[name]))
        return Check(
            id=_id(quantity, state, name), state=state, quantity=quantity, at=name,
            instrument="controller", place=place, also_from=also_from, setup=state, minutes=0.5,
            levels=levels_for(quantity, "controller"),
            text=f"Controller list: {quantity} {name.split('.', 1)[1]} of "
                 f"{point_text(self.circuit, name.split('.', 1)[0])}, state '{state}'",
        )

    def _panel(self, controller: Part) -> str:
        """Return where the controller's list is read: a cab place when there is one."""
        cab = [place for place in self.circuit.places if "cab" in place]
        return cab[0] if cab else controller.place

    # --- those worth thinking about ----------------------------------------------------------

    def functions(self) -> Iterator[Check]:
        """Give what every load does and every controller lists, in every state."""
        for state in self.circuit.states:
            if fuses_out(self.circuit, state):
                continue  # what a pulled fuse puts out tells nothing that its amps do not
            for part, quantity in loads(self.circuit):
                if part.kind != "relay":
                    yield self._seen(state, quantity, part.id)
            for part, quantity, name in controller_items(self.circuit):
                yield self._listed(state, quantity, f"{part.id}.{name}")

    def candidates(self) -> Iterator[Check]:
        """Give every check that may be offered; their predictions tell which are useless."""
        yield from self.functions()
        for state in self.circuit.states:
            if not fuses_out(self.circuit, state):
                yield from self._live(state)
        for part in self.circuit.parts.values():
            if part.kind == "battery":
                yield from (self._drain(state, part.id, "meter") for state in self._parked())
        yield from self._cold()

    def _live(self, state: str) -> Iterator[Check]:
        negative = battery_negative(self.circuit)
        for point in self.circuit.points():
            if point != negative:
                yield self._between(state, "voltage", (point, negative), "meter")
        for element, at, to in series_pairs(self.circuit):
            if negative not in (at, to):
                yield self._between(state, "voltage", (at, to), "meter")
            if element in self.circuit.wires:
                yield self._current(state, element, "clamp")
        for part in self.circuit.parts.values():
            if part.kind == "stator" and turns_in(self.circuit, part, state):
                yield from (self._alternating(state, f"{part.id}.{a}", f"{part.id}.{b}")
                            for a, b in AC_PAIRS)
        for part, offer in heard_parts(self.circuit):
            if offer and state != base_state(self.circuit):
                yield self._heard(state, part.id)

    def _switch_states(self, switch: Part) -> tuple[str, ...]:
        """Return the base state, and of the others the one that closes most switches here too."""
        def closed(part: Part, state: str) -> bool:
            given = self.circuit.states[state]
            return rule_of(part).evaluate(
                lambda name, value: given.get(name, "no") == value if value
                else is_yes(given.get(name, "no")))

        switches = [part for part in self.circuit.parts.values() if part.kind == "switch"]
        base = base_state(self.circuit)
        others = [state for state in self.circuit.states
                  if closed(switch, state) != closed(switch, base)]
        best = sorted(others, key=lambda state: -sum(closed(one, state) for one in switches))
        return (base, *best[:1])

    def _cold(self) -> Iterator[Check]:
        base = base_state(self.circuit)
        negative = battery_negative(self.circuit)
        for element, at, to in series_pairs(self.circuit):
            part = self.circuit.parts.get(element)
            if part is None or part.kind == "earth":
                continue  # a wire, a connector way: a loaded drop tells more than ohms do
            for state in self._switch_states(part) if part.kind == "switch" else (base,):
                if to != negative:
                    yield self._between(state, "resistance", (at, to), "meter")
        for part in turned_parts(self.circuit):
            yield self._turned(part.id)
        for point in self.circuit.points():
            if point != negative:
                yield self._between(base, "resistance", (point, negative), "meter")
        for wire in self.circuit.wires.values():
            positive = f"{negative.split('.', 1)[0]}.+"
            for to in (nearest_earth(self.circuit, wire.start.point), positive):
                yield self._bare(base, wire.id, to)


def _listed(names: tuple[str, ...]) -> str:
    return " and ".join(names)


def _id(quantity: str, state: str, at: str, to: str = "", instrument: str = "") -> str:
    """Return the readable id: `voltage:locking:ECU.12:BAT.-`."""
    return ":".join(part for part in (quantity, state, at, to, instrument) if part)
