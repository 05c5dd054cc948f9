"""The job record: complaint, cause and correction with the readings that show them; also as PDF."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import TYPE_CHECKING

from loomwright.service import reasoning
from loomwright.service.cautions import cautions_for
from loomwright.service.costs import costs_of
from loomwright.service.dates import moment_words
from loomwright.service.job_view import reading_lines, repair_lines
from loomwright.service.limits import limit_rows, model_words
from loomwright.service.office import CARD_LABELS, card_of
from loomwright.service.office_view import cost_lines, photo_lines, price_head
from loomwright.service.proof_view import proof_view
from loomwright.service.rates import sender_lines, sender_missing
from loomwright.service.records import Record
from loomwright.service.typesetting import typeset
from loomwright.service.words import percent, state_words, suspect_line

if TYPE_CHECKING:
    from loomwright.jobs.rates import Rates
    from loomwright.jobs.records import History, Job
    from loomwright.service.benches import Bench
    from loomwright.service.records import ProofView

__all__ = ["NOT_READ", "card_facts", "record", "record_pdf"]

NOT_READ = "not read"

FACTS = ("vin", "make", "vehicle_class", "system_v", "odometer", "hours", "hot", "wet", "after")


def record(job: Job, history: History, bench: Bench, rates: Rates) -> Record:
    """Return a job as it is printed. The cause is what the readings before the repair say."""
    costs, said = costs_of(history, bench, rates), history.office.findings
    given = history.office.hand_over
    diagnosis = reasoning.diagnosis_of(bench, history)
    proof = proof_view(bench, history) if history.proving else None
    lines = reading_lines(bench, history, diagnosis)
    state, (cause, named) = _telling_state(bench, history), _cause(bench, history)
    complaint = job.complaint.text
    if job.complaint.when:
        complaint += f". When: {job.complaint.when}"
    return Record(
        job=job, title=bench.circuit.title, state_word=history.state, complaint=complaint,
        cause=cause, cause_named=named,
        cause_evidence=tuple(
            (f"{one.title} ({one.state})", one.value, one.healthy, one.says) for one in lines),
        corrections=repair_lines(bench, history), before_after=_before_after(proof, history),
        proof=proof.why if proof else "", proved=bool(proof and proof.holds),
        finish=history.finish, cautions=cautions_for(bench.circuit),
        drawing=bench.drawing(state),
        drawing_note=f"State '{state}' of a healthy circuit: "
                     f"{state_words(bench.circuit, state)}.",
        drawing_file=bench.drawing(state, standalone=True),
        facts=card_facts(job),
        findings=tuple(pair for pair in (
            ("Cause, in the technician's words", said.cause),
            ("Correction, in the technician's words", said.correction),
            ("What remains", said.remains)) if pair[1]),
        parts=tuple((one.what, one.amount) for one in cost_lines(costs, rates) if one.part),
        work=f"{costs.minutes:.0f} min, {costs.basis}",
        photos=photo_lines(bench, history),
        hand_over=f"Given to {given.who}. {given.explained}".strip() if given else "",
        hand_over_at=given.at if given else "", hand_over_by=given.by if given else "",
        workshop=rates.name, sender=sender_lines(rates), sender_missing=sender_missing(rates),
        price_head=price_head(rates), date_order=rates.date_order,
        healthy_from=model_words(bench.circuit),
        limits=limit_rows(bench.circuit, tuple(one.repair for one in history.repairs)))


def card_facts(job: Job) -> tuple[tuple[str, str], ...]:
    """Return what the card says of the vehicle and the complaint beyond name and plate."""
    card = card_of(job)
    return tuple((CARD_LABELS[name], card[name]) for name in FACTS if card[name])


def _cause(bench: Bench, history: History) -> tuple[str, bool]:
    """Return the leading suspect that the last repair mends, and whether there is one."""
    from loomwright.diagnosis import led_to

    if not history.repairs:
        return "Not found yet.", False
    repair = history.repairs[-1].repair
    diagnosis = reasoning.diagnosis_of(bench, history)
    for rank, one in enumerate(diagnosis.suspects, 1):
        if one.repair == repair:
            line = suspect_line(bench.circuit, bench.repairs, one, rank)
            where = f" ({line.detail})" if line.detail else ""
            severity = f", {line.severity}" if line.severity else ""
            sure = percent(one.probability)
            blew = "".join(f" {told.text}" for told in led_to(bench.plant, (one,), 0.0))
            return (f"{line.name}{where}: {line.fault}{severity}. "
                    f"How sure before the repair: {sure}.{blew}"), True
    return "The readings do not name what was repaired.", False


def _before_after(proof: ProofView | None, history: History
                  ) -> tuple[tuple[str, str, str, str], ...]:
    if proof is None:
        return ()
    unread = NOT_READ if history.finish else "still to read"
    return tuple((f"{line.check.title} ({line.check.state})", line.before or NOT_READ,
                  line.value or unread, line.check.healthy) for line in proof.lines)


def _telling_state(bench: Bench, history: History) -> str:
    """Return the state in which most readings were taken."""
    taken = [one.state for one in history.readings]
    return max(bench.circuit.states, key=taken.count)


def record_pdf(made: Record, pictures: Mapping[str, bytes] | None = None) -> bytes:
    """Return a record as PDF; `pictures` are the files of its photos by name.

    A photo whose file is not given stands there with its caption only.
    """
    given = pictures or {}
    photos = tuple(one if one.file in given else dataclasses.replace(one, file="")
                   for one in made.photos)
    return typeset("record.typ", _dated(dataclasses.replace(made, photos=photos)), pictures=given,
                   kept=("drawing", "drawing_file", "file", "at", "created_at",
                         "hand_over_at"))


def _dated(made: Record) -> Record:
    """Return a record whose times are in words."""
    def words(at: str) -> str:
        return moment_words(at, made.date_order) if at else ""

    return dataclasses.replace(
        made, job=dataclasses.replace(made.job, created_at=words(made.job.created_at)),
        corrections=tuple(dataclasses.replace(one, at=words(one.at)) for one in made.corrections),
        finish=made.finish and dataclasses.replace(made.finish, at=words(made.finish.at)),
        hand_over_at=words(made.hand_over_at))
