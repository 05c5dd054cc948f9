"""Why a controller's output is off, as shown on its page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loomwright.errors import UnknownNameError
from loomwright.service import reasoning
from loomwright.service.job_view import output_choices, show_choices, shown_faults
from loomwright.service.records import Choice, WhyView
from loomwright.service.words import state_words

if TYPE_CHECKING:
    from loomwright.jobs.records import History, Job
    from loomwright.service.benches import Bench

__all__ = ["why_view"]


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
    answer = why_off(bench.faulty(shown_faults(chosen)), state, output)
    return WhyView(
        job=job, state=state, output=output, outputs=outputs, show=chosen, shows=shows,
        states=tuple(Choice(name, name, name == state, state_words(bench.circuit, name))
                     for name in bench.circuit.states),
        answer=answer)
