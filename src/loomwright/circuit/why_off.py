"""Why is this output off? From the rule to the inputs that block it, and back along their wires."""

from __future__ import annotations

from collections.abc import Callable

from loomwright.circuit.expressions import Expression
from loomwright.circuit.healthy import Healthy, Working, is_true
from loomwright.circuit.kinds.controller import inputs_of, outputs_of
from loomwright.circuit.logic import Change, expanded, smallest_changes
from loomwright.circuit.model import (
    Circuit,
    ControllerInput,
    ControllerOutput,
    Part,
    PointReading,
    StateResult,
)
from loomwright.circuit.solve import solve
from loomwright.circuit.why_records import InputCause, WhyOff, shown_volts
from loomwright.circuit.why_trace import Case, load_trace, trace_from
from loomwright.errors import UnknownNameError
from loomwright.units import format_quantity

__all__ = ["WhyOff", "why_off"]

_DRIVEN_SHARE = 0.2  # of system volts: a driver that loses more than this does not drive


def why_off(circuit: Circuit, state: str, output: str, result: StateResult | None = None) -> WhyOff:
    """Return why a controller's output is off, from its rule and the solved circuit.

    Parameters
        circuit: the circuit, with its faults if it carries any
        state: the name of one of its states
        output: the output as `ECU.lock`
        result: the state as solved already; solved here where not given
    Returns
        WhyOff: the cause; all smallest sets of inputs that would turn it on; each of them followed
            along its wires, with the volts to expect (from the same circuit without faults)
    Raises
        UnknownNameError: there is no such state or output
        SolveError: the circuit has no trustworthy solution
    """
    part, item = _find(circuit, output)
    if state not in circuit.states:
        raise UnknownNameError("state", state, circuit.states)
    solved = result if result is not None else solve(circuit, state)
    case = Case(circuit, Healthy(circuit), solved, part, item)
    if case.is_on(solved):
        return _commanded(case)
    return _without_power(case) or _without_life(case) or _blocked(case)


def _find(circuit: Circuit, output: str) -> tuple[Part, ControllerOutput]:
    """Return a controller and its output by name."""
    known = {f"{part.id}.{item.id}": (part, item) for part in circuit.parts.values()
             if part.kind == "controller" for item in outputs_of(part)}
    if output not in known:
        raise UnknownNameError("output", output, known)
    return known[output]


def _commanded(case: Case) -> WhyOff:
    """Answer for an output that is commanded: on, or its driver does not follow."""
    pin = case.pin(case.output.pin)
    rail = case.pin(case.part.params["supply" if case.output.drives == "high side" else "earth"])
    now = case.result.points[pin]
    lost_v = abs(now.volts - case.volts(rail))
    protects = [note for note in case.result.notes
                if note.startswith(f"Output {case.name} protects")]
    rule = str(case.output.when)
    if lost_v <= _DRIVEN_SHARE * case.circuit.system_v and not now.floating and not protects:
        return _on(case)
    limit = format_quantity(case.output.limit_a, "A")
    why = protects[0] if protects else \
        (f"Either the driver has failed or it protects itself against more than {limit}.")
    working = case.healthy.find(case.result.state, case.is_on)
    load = load_trace(case, working)
    return WhyOff(case.name, case.result.state, "driver",
                  f"{case.name} is commanded on in '{case.result.state}' and its rule holds, but "
                  f"its pin {pin} reads {shown_volts(now)}, {format_quantity(lost_v, 'V')} away "
                  f"from {rail}. {why}", rule, traces=(load,))


def _on(case: Case) -> WhyOff:
    """Answer for an output that the circuit file has on, with what to prove if it is off."""
    working = case.healthy.find(case.result.state, case.is_on) or \
        Working(case.result, f"'{case.result.state}'")
    pin = case.pin(case.output.pin)
    inputs = {item.id: item for item in inputs_of(case.part)}
    used = [inputs[name] for name in _rule(case).names() if name in inputs]
    reads = case.result.inputs[case.part.id]
    causes = tuple(
        InputCause(Change(item.id, to=reads[item.id]), case.pin(item.pin),
                   f"Input {item.id} (pin {case.pin(item.pin)}) must read "
                   f"{'on' if reads[item.id] else 'off'}.",
                   trace_from(case, case.pin(item.pin), _rail_of(item), working, case.result))
        for item in used)
    traces = tuple(trace_from(case, case.pin(case.part.params[key]), key, working, case.result)
                   for key in ("supply", "earth"))
    load = load_trace(case, working)
    return WhyOff(
        case.name, case.result.state, "on",
        f"{case.name} is not off in '{case.result.state}' by the circuit file: it is commanded on "
        f"and its pin {pin} reads {shown_volts(case.result.points[pin])}. If it is off on the "
        "vehicle, one of the following is not so.", str(case.output.when), (), causes,
        (*traces, load))


def _rail_of(item: ControllerInput) -> str:
    """Return what the wiring of an input joins it to, against its own pull."""
    return "supply" if item.pull == "down" else "earth"


def _without_power(case: Case) -> WhyOff | None:
    """Answer for a controller that has not the volts to work."""
    supply, earth = (case.pin(case.part.params[key]) for key in ("supply", "earth"))
    needs = case.part.number("minimum_v")
    has = case.volts(supply) - case.volts(earth)
    if has >= needs:
        return None
    working = case.healthy.find(
        case.result.state,
        lambda result: result.points[supply].volts - result.points[earth].volts >= needs)
    before = working.result if working else case.result
    cause = "supply" if case.volts(supply) < needs or case.result.points[supply].floating else \
        "earth"
    traces = (trace_from(case, supply, "supply", working, before),
              trace_from(case, earth, "earth", working, before))
    return WhyOff(
        case.name, case.result.state, cause,
        f"{case.part.id} does not work in '{case.result.state}', whatever its rule: it has "
        f"{shown_volts(PointReading(has))} between {supply} and {earth} and needs "
        f"{format_quantity(needs, 'V')}. Its {cause} is missing.",
        str(case.output.when), traces=traces if cause == "supply" else traces[::-1])


def _without_life(case: Case) -> WhyOff | None:
    """Answer for a controller that has its volts and still does nothing."""
    holds = smallest_changes(_rule(case), _truth(case)) == (frozenset(),)
    if case.result.parts[case.part.id].doing != "dead" and not holds:
        return None
    supply, earth = (case.pin(case.part.params[key]) for key in ("supply", "earth"))
    has = format_quantity(case.volts(supply) - case.volts(earth), "V")
    return WhyOff(
        case.name, case.result.state, "controller",
        f"{case.part.id} has {has} between {supply} and {earth} in '{case.result.state}' and does "
        "nothing: the controller itself is suspect. Prove its supply and earth under load first.",
        str(case.output.when))


def _rule(case: Case) -> Expression:
    """Return the output's rule with other outputs replaced by their rules."""
    rules = {item.id: item.when for item in outputs_of(case.part) if item.id != case.output.id}
    return expanded(case.output.when, rules)


def _truth(case: Case) -> Callable[[str, str], bool]:
    """Return the truth of each name as the controller has it now."""
    own = {**case.result.outputs[case.part.id], **case.result.inputs[case.part.id]}
    conditions = case.circuit.states[case.result.state]

    def truth(name: str, value: str) -> bool:
        if name in own:
            return own[name] != (value.lower() in {"no", "off", "false"})
        return is_true(conditions, name, value)

    return truth


def _blocked(case: Case) -> WhyOff:
    """Answer for a rule that does not hold."""
    fixed = [item.id for item in outputs_of(case.part)]
    ways = smallest_changes(_rule(case), _truth(case), fixed)
    inputs = {item.id: item for item in inputs_of(case.part)}
    needed = sorted({change for way in ways for change in way},
                    key=lambda change: [*inputs, change.name].index(change.name))
    causes = tuple(_input_cause(case, inputs[change.name], change) if change.name in inputs
                   else _condition_cause(case, change) for change in needed)
    summary = (f"{case.name} is off in '{case.result.state}': its rule, {case.output.when}, does "
               "not hold.")
    if not ways:
        summary += " No change of inputs makes it hold."
    return WhyOff(case.name, case.result.state, "rule", summary, str(case.output.when),
                  tuple(tuple(sorted(way)) for way in ways), causes)


def _condition_cause(case: Case, change: Change) -> InputCause:
    """Return a condition of the state that the rule reads directly."""
    return InputCause(change, "", f"'{change.name}' is not so in '{case.result.state}': the rule "
                      f"needs {change.text()}. It is not read at a pin.")


def _input_cause(case: Case, item: ControllerInput, change: Change) -> InputCause:
    """Return an input that must change, followed from its pin along its wires."""
    wanted = change.to != (change.value.lower() in {"no", "off", "false"})
    pin = case.pin(item.pin)
    driven_high = item.pull == "down"
    wants_drive = wanted == ((item.on_when == "high") == driven_high)
    working = _working(case, item, wanted)
    # what should drive the pin is seen where it works; what wrongly drives it is seen now
    follow = working.result if working and wants_drive else case.result
    high = case.volts(pin) - case.volts(case.pin(case.part.params["earth"])) > item.threshold_v
    reads = case.result.inputs[case.part.id][item.id]
    words = {True: "on", False: "off"}
    what = f"Input {item.id} (pin {pin}) reads {words[reads]} and must read {words[wanted]}."
    if (high == (item.on_when == "high")) != reads:
        what += (f" Yet the pin itself is {'high' if high else 'low'} "
                 f"({shown_volts(case.result.points[pin])}): suspect the input inside "
                 f"{case.part.id}.")
    elif not wants_drive:
        what += (f" It has {shown_volts(case.result.points[pin])} and should have none: something "
                 "on the way feeds it." if driven_high else
                 " It is held at earth and should not be: something on the way closes it.")
    return InputCause(change, pin, what, trace_from(case, pin, _rail_of(item), working, follow))


def _working(case: Case, item: ControllerInput, wanted: bool) -> Working | None:
    """Return a state in which the input reads as wanted, best with the output on as well."""
    def reads(result: StateResult) -> bool:
        return result.parts[case.part.id].doing != "dead" and \
            result.inputs[case.part.id][item.id] == wanted

    both = case.healthy.find(case.result.state,
                             lambda result: reads(result) and case.is_on(result))
    return both or case.healthy.find(case.result.state, reads)


