"""A job's page put together: what stands, what it says, what to do next."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, NamedTuple
from urllib.parse import urlencode

from loomwright.jobs.vin import vin_warning
from loomwright.service import reasoning
from loomwright.service.benches import Marks
from loomwright.service.cautions import cautions_for
from loomwright.service.proof_view import proof_view
from loomwright.service.reach import left_out, unreached_lines
from loomwright.service.records import (
    CheckLine,
    Choice,
    Entry,
    JobView,
    Look,
    ReadingLine,
    RepairLine,
    SuspectLine,
    VerdictView,
)
from loomwright.service.telling import told_lines, told_names
from loomwright.service.tracks import complaint_elements
from loomwright.service.words import (
    check_line,
    check_title,
    minutes_words,
    percent,
    predicted_words,
    state_words,
    suspect_line,
    suspect_name,
    value_words,
    with_predictions,
)

if TYPE_CHECKING:
    from loomwright.diagnosis.records import Diagnosis, ReadingWeight, Suspect
    from loomwright.jobs.records import History, Job, Reading
    from loomwright.plant import Check
    from loomwright.service.benches import Bench
    from loomwright.service.records import ProofView

__all__ = ["job_view", "output_choices", "repair_lines", "show_choices", "shown_faults"]

SHOWN_SUSPECTS = 6
LIKELY = 0.2  # from here a suspect is marked in the drawing
EVEN_BITS = 0.3  # less than this speaks for nobody


def job_view(job: Job, history: History, bench: Bench, look: Look) -> JobView:
    """Return everything a job's page shows."""
    diagnosis = reasoning.diagnosis_of(bench, history)
    proof = proof_view(bench, history) if history.proving else None
    untried = _untried_functions(bench, job, history)
    # A repair is judged by its proof alone: what the search would ask next is of before it.
    checks = () if proof else untried or _next_checks(bench, diagnosis)
    entry = _entry(bench, look, checks, proof)
    if not entry.at and not look.state and history.readings:
        entry = dataclasses.replace(entry, state=history.readings[-1].state)
    shows = show_choices(bench, diagnosis, look.show)
    shown = next(choice for choice in shows if choice.chosen)
    lines = _suspect_lines(bench, diagnosis)
    rest = diagnosis.suspects[SHOWN_SUSPECTS:]
    current = set(reasoning.current_readings(history)) | set(reasoning.proof_readings(history))
    state, settled = entry.state, history.proving or history.finish is not None
    only = complaint_elements(bench, history, diagnosis, (entry.at, entry.to)) \
        if look.only else frozenset[str]()
    marks = _marks(entry, checks, () if settled else diagnosis.suspects)
    return JobView(
        job=job, vin_warning=vin_warning(job.vehicle.vin),
        title=bench.circuit.title, system_v=f"{bench.circuit.system_v:g} V",
        state_word=history.state, last=history.last,
        states=_state_choices(bench, state), shows=shows,
        drawing=bench.drawing(state, shown_faults(shown.id), marks, only=only),
        drawing_note=f"State '{state}': {state_words(bench.circuit, state)}. {shown.detail}",
        notes=bench.solved(state, shown_faults(shown.id)).notes,
        entry=entry, focus=entry.at or next((one.element for one in diagnosis.suspects), ""),
        readings=reading_lines(bench, history, diagnosis),
        earlier=tuple(_reading_line(bench, one, _Weighed("", "even", ""))
                      for one in history.readings if one not in current),
        withdrawn=len(history.withdrawn), suspects=tuple(lines),
        others=_others([one.probability for one in rest]),
        no_fault=percent(diagnosis.no_fault), unmodelled=percent(diagnosis.unmodelled),
        next_checks=checks, verdict=_verdict(bench, diagnosis, bool(untried)), begun=history.begun,
        repairs=repair_lines(bench, history),
        repair_choices=_repair_choices(bench, diagnosis, history.begun),
        told=told_lines(bench, history, diagnosis), told_names=told_names(bench),
        unreached=unreached_lines(history),
        learned=bench.learned.words if bench.learned else "",
        proof=proof, finish=history.finish, outputs=output_choices(bench),
        cautions=cautions_for(bench.circuit), names=_names(bench),
        should=tuple(f"{part} {doing}"
                     for part, doing in bench.circuit.should.get(state, {}).items()))


def _suspect_lines(bench: Bench, diagnosis: Diagnosis) -> list[SuspectLine]:
    """Return the first suspects in words, each with what it blew."""
    blew = {one.suspect: one.text for one in reasoning.led_to_of(bench, diagnosis)}
    return [dataclasses.replace(suspect_line(bench.circuit, bench.repairs, one, rank),
                                led_to=blew.get(one.id, ""))
            for rank, one in enumerate(diagnosis.suspects[:SHOWN_SUSPECTS], 1)]


def _marks(entry: Entry, checks: tuple[CheckLine, ...], suspects: tuple[Suspect, ...]) -> Marks:
    """Return what the drawing stresses: the entry's point, the next check, likely suspects."""
    first = checks[0] if checks else None
    likely = [one.element for one in suspects[:3] if one.probability > LIKELY]
    return Marks(
        chosen=frozenset({entry.at} - {""}),
        next=frozenset({first.at} if first else ()),
        suspects=frozenset(name for element in likely for name in element.split("+")))


def show_choices(bench: Bench, diagnosis: Diagnosis, wanted: str) -> tuple[Choice, ...]:
    """Return whose values the drawing can show: a healthy circuit's, or a suspect's."""
    found = [Choice("healthy", "As it should be", detail="Values of a healthy circuit.")]
    for rank, one in enumerate(diagnosis.suspects[:3], 1):
        line = suspect_line(bench.circuit, {}, one, rank)
        words = " ".join(word for word in (line.name, line.fault) if word)
        detail = f"Values if it is {words}{', ' + line.severity if line.severity else ''}."
        name = one.id
        if one.severity is not None and "+" not in name and one.id.startswith("high-resistance"):
            name = f"{one.id}:{one.severity.mid_ohm:.4g}"
        if one.element:
            found.append(Choice(name, f"If {words}", detail=detail))
    chosen = wanted if wanted in {one.id for one in found} else "healthy"
    return tuple(dataclasses.replace(one, chosen=one.id == chosen) for one in found)


def shown_faults(show: str) -> tuple[str, ...]:
    """Return the fault ids to insert for what the drawing shows."""
    return () if show == "healthy" else tuple(show.split("+"))


def output_choices(bench: Bench, chosen: str = "") -> tuple[Choice, ...]:
    """Return the controller outputs whose reason can be asked for."""
    found = []
    for part in bench.circuit.parts.values():
        if part.kind != "controller":
            continue
        outputs = part.params.get("outputs")
        for one in outputs if isinstance(outputs, tuple) else ():
            name = f"{part.id}.{getattr(one, 'id', '')}"
            found.append(Choice(name, name, name == chosen, part.label))
    return tuple(found)


def reading_lines(bench: Bench, history: History, diagnosis: Diagnosis) -> tuple[ReadingLine, ...]:
    """Return the current readings, each with what it says about the first two suspects."""
    readings = reasoning.current_readings(history)
    names = tuple(suspect_name(bench.circuit, one.id, one.element, one.kind)
                  for one in diagnosis.suspects[:2])
    weights = {one.index: _weighed(bench, one, names) for one in diagnosis.explanation}
    nothing = _Weighed("", "even", "")
    older = len(reasoning.believed_readings(history)) - len(readings)
    return tuple(_reading_line(bench, one, weights.get(index, nothing))
                 for index, one in enumerate(readings, start=older))


class _Weighed(NamedTuple):
    """What a reading says, its mark, and why it deserves a second look."""

    says: str
    mark: str
    matters: str


def _weighed(bench: Bench, weight: ReadingWeight, names: tuple[str, ...]) -> _Weighed:
    bits = weight.for_first_bits
    mark = "even" if abs(bits) < EVEN_BITS else "for" if bits > 0 else "against"
    says = ""
    if len(names) == 2:
        first, second = names if bits > 0 else names[::-1]
        odds = f"{2 ** min(abs(bits), 40):.2g}" if abs(bits) < 3.3 else _round_odds(abs(bits))
        says = (f"Hardly tells {names[0]} from {names[1]}." if mark == "even" else
                f"Speaks for {first} over {second}, {odds} to 1.")
    matters = ""
    if weight.verdict_without:
        repair = bench.repairs.get(weight.verdict_without)
        words = repair.text if repair else weight.verdict_without
        matters = f"If this reading were wrong, the answer would be: {words}."
    return _Weighed(says, mark, matters)


def _round_odds(bits: float) -> str:
    odds = 2.0 ** min(bits, 40.0)
    return "over 10 000" if odds > 10_000 else f"{float(f'{odds:.1g}'):.0f}"


def _reading_line(bench: Bench, reading: Reading, weighed: _Weighed) -> ReadingLine:
    evidence = reasoning.evidence_of(bench, (reading,))[0]
    check = evidence.check
    query = urlencode({"state": check.state, "quantity": check.quantity, "at": check.at,
                       "to": check.to, "instrument": check.instrument})
    return ReadingLine(
        number=reading.number, title=check_title(bench.circuit, check, bench.negative),
        state=check.state, value=value_words(check, evidence.value),
        healthy=predicted_words(check, bench.healthy(check)), says=weighed.says, mark=weighed.mark,
        matters=weighed.matters, at=reading.at, by=reading.by, query=query,
        as_expected=bench.is_healthy(check, evidence.value))


def _next_checks(bench: Bench, diagnosis: Diagnosis) -> tuple[CheckLine, ...]:
    suspects = {one.id: one for one in diagnosis.suspects}
    found = []
    for one in diagnosis.next_checks:
        line = check_line(bench.circuit, one.check, bench.negative, one.minutes)
        healthy = predicted_words(one.check, bench.healthy(one.check))
        line = dataclasses.replace(line, healthy=healthy)
        found.append(with_predictions(bench.circuit, line, one, suspects))
    return tuple(found)


def _untried_functions(bench: Bench, job: Job, history: History) -> tuple[CheckLine, ...]:
    """Return the functions still to try: a complaint is seen before it is traced.

    Those of the parts that the complaint names by their label come first, where they should work.
    Empty once a reading is not that of a healthy circuit, once all are tried, or after a repair.
    """
    taken = reasoning.evidence_of(bench, reasoning.current_readings(history))
    if history.repairs or not all(bench.is_healthy(one.check, one.value) for one in taken):
        return ()
    done = {one.check.id for one in taken} | left_out(bench, history)
    said = set(job.complaint.text.lower().split())

    def order(check: Check) -> tuple[int, bool]:
        label = bench.circuit.parts[check.at].label.lower().split()
        return -len(said & set(label)), bench.circuit.should[check.state][check.at] != "on"

    wanted = [one for one in bench.plant.complaint_checks() if one.id not in done]
    return tuple(plain_line(bench, check) for check in sorted(wanted, key=order))


def _entry(
    bench: Bench, look: Look, checks: tuple[CheckLine, ...], proof: ProofView | None
) -> Entry:
    """Return how the reading form is filled: by what was chosen, the proof, or the next check."""
    wanted = [line.check for line in proof.lines] if proof else []
    if look.at:
        state = look.state or (checks[0].state if checks else next(iter(bench.circuit.states)))
        check = bench.plant.check_for(state, look.quantity or "voltage", look.at, look.to,
                                      look.instrument or "meter")
        known = {line.id: line for line in (*wanted, *checks)}
        line = known.get(check.id) or plain_line(bench, check)
        return _filled(line, "chosen")
    open_lines = proof.lines if proof else ()
    missing = [one.check for one in open_lines if one.status == "still to read"]
    first = next(iter([*missing, *checks]), None)
    if first is None or (look.state and look.state != first.state):
        state = look.state or next(iter(bench.circuit.states))
        return Entry(state, "voltage", "", "", "meter", "V", (), "chosen")
    return _filled(first, "proof" if missing else "next check")


def _filled(line: CheckLine, source: str) -> Entry:
    return Entry(line.state, line.quantity, line.at, line.to, line.instrument, line.unit,
                 line.levels, source, line)


def plain_line(bench: Bench, check: Check) -> CheckLine:
    """Return a check as an instruction, with what a healthy circuit shows."""
    line = check_line(bench.circuit, check, bench.negative, check.minutes)
    return dataclasses.replace(line, healthy=predicted_words(check, bench.healthy(check)))


def _state_choices(bench: Bench, chosen: str) -> tuple[Choice, ...]:
    if chosen not in bench.circuit.states:
        from loomwright.errors import UnknownNameError

        raise UnknownNameError("state", chosen, bench.circuit.states)
    return tuple(Choice(state, state, state == chosen, state_words(bench.circuit, state))
                 for state in bench.circuit.states)


def _verdict(bench: Bench, diagnosis: Diagnosis, unseen: bool) -> VerdictView:
    verdict = diagnosis.verdict
    repair = bench.repairs.get(verdict.repair)
    titles = {
        "look further": "See the complaint for yourself first: try each function." if unseen
        else "Not sure yet. Take the next check.",
        "repair": repair.text if repair else verdict.repair,
        "no fault found": "No fault found by these readings.",
        "unexplained": "No single fault explains these readings. Buy no parts on them.",
    }
    cost = f"part price about {repair.price:.0f}" if repair and repair.price else ""
    return VerdictView(
        status=verdict.status, title=titles.get(verdict.status, verdict.status), why=verdict.why,
        confidence=percent(verdict.confidence), repair=verdict.repair,
        repair_text=repair.text if repair else "",
        minutes=minutes_words(repair.minutes) if repair else "", cost=cost)


def repair_lines(bench: Bench, history: History) -> tuple[RepairLine, ...]:
    """Return the repairs done, each with how it turned out."""
    known = bench.repairs
    found = []
    for one in history.repairs:
        outcome = "did not hold" if one.failed else "being proved"
        if not one.failed and history.finish is not None:
            outcome = "ended without proof" if history.finish.reason else "proved"
        text = known[one.repair].text if one.repair in known else one.repair
        found.append(RepairLine(one.repair, text, one.found, one.at, one.by, outcome))
    return tuple(found)


def _repair_choices(bench: Bench, diagnosis: Diagnosis, begun: str) -> tuple[Choice, ...]:
    """Return every repair, those of the leading suspects first."""
    known = bench.repairs
    ranked = dict.fromkeys([*(one.repair for one in diagnosis.suspects), *known])
    chosen = begun or diagnosis.verdict.repair or next(iter(ranked), "")
    return tuple(Choice(name, known[name].text, name == chosen)
                 for name in ranked if name in known)


def _others(shares: list[float]) -> str:
    if not shares:
        return ""
    noun = "other suspect" if len(shares) == 1 else "other suspects together"
    return f"{len(shares)} {noun}: {percent(sum(shares))}"


def _names(bench: Bench) -> tuple[str, ...]:
    """Return every name a reading can be taken at, for the form's suggestions."""
    circuit = bench.circuit
    found = dict.fromkeys([*circuit.points(), *circuit.wires, *circuit.parts])
    for part in circuit.parts.values():
        for key in ("inputs", "outputs"):
            items = part.params.get(key)
            if part.kind == "controller" and isinstance(items, tuple):
                found |= dict.fromkeys(f"{part.id}.{getattr(one, 'id', one)}" for one in items)
    return tuple(found)
