"""Why a controller's output is off, as shown on its page."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from loomwright.errors import UnknownNameError
from loomwright.service import reasoning
from loomwright.service.job_view import output_choices, show_choices, shown_faults
from loomwright.service.records import Choice, WhyBlock, WhyPoint, WhyView
from loomwright.service.words import state_words

if TYPE_CHECKING:
    from loomwright.circuit.model import Circuit
    from loomwright.circuit.why_records import Trace, WhyOff
    from loomwright.jobs.records import History, Job
    from loomwright.service.benches import Bench

__all__ = ["why_view", "with_consequences"]


def with_consequences(circuit: Circuit, answer: WhyOff) -> WhyOff:
    """Return an answer that also says, in a note, which fuses the circuit's own faults blew."""
    if not circuit.faults:
        return answer
    from loomwright.circuit.plant.consequences import consequences
    from loomwright.diagnosis.led_to import sentence

    told = consequences(dataclasses.replace(circuit, faults=()), circuit.faults)
    if not told:
        return answer
    causes = tuple((one.element, one.kind) for one in circuit.faults)
    return dataclasses.replace(answer, notes=(*answer.notes, sentence(causes, told)))


def why_view(
    job: Job, history: History, bench: Bench, asked: tuple[str, str, str]
) -> WhyView:
    """Return why an output is off. `asked` is state, output and whose values to take.

    Raises UnknownNameError on a state or output that the circuit does not have.
    """
    from loomwright.circuit import why_off

    state, output, show = asked
    outputs = output_choices(bench, output)
    if output not in {one.id for one in outputs}:
        raise UnknownNameError("controller output", output, [one.id for one in outputs])
    if state not in bench.circuit.states:
        raise UnknownNameError("state", state, bench.circuit.states)
    shows = show_choices(bench, reasoning.diagnosis_of(bench, history), show)
    chosen = next(one.id for one in shows if one.chosen)
    circuit = bench.faulty(shown_faults(chosen))
    answer = with_consequences(circuit, why_off(circuit, state, output))
    return WhyView(
        job=job, state=state, output=output, outputs=outputs, show=chosen, shows=shows,
        states=tuple(Choice(name, name, name == state, state_words(bench.circuit, name))
                     for name in bench.circuit.states),
        summary=answer.summary,
        ways=tuple(" and ".join(one.text() for one in way) for way in answer.ways if way),
        blocks=(*(_block(one.what, one.trace) for one in answer.inputs),
                *(_block("", one) for one in answer.traces)),
        notes=answer.notes)


def _block(what: str, trace: Trace | None) -> WhyBlock:
    from loomwright.circuit.why_records import shown_volts

    if trace is None:
        return WhyBlock(what, "", (), "")
    by = f", volts as in {trace.as_in}" if trace.as_in else ""
    head = f"Follow it from {trace.start} back to the {trace.goal}{by}."
    if not trace.points:
        head = f"Nothing in the circuit file leads from {trace.start} to the {trace.goal}."
    points = tuple(
        WhyPoint(one.point, one.via_text, one.place, shown_volts(one.expected),
                 shown_volts(one.now), one.differs)
        for one in trace.points)
    return WhyBlock(what, head, points, trace.lost)
