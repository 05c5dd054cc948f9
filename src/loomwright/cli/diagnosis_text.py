"""A diagnosis as a person reads it in the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from loomwright.cli import show

if TYPE_CHECKING:
    from loomwright.diagnosis import LedTo
    from loomwright.diagnosis.records import Diagnosis, Evidence, NextCheck, Suspect
    from loomwright.plant import Check

__all__ = ["check_text", "diagnosis_json", "print_diagnosis", "print_readings", "print_suspects",
           "verdict_sentence"]

SHOWN_SUSPECTS = 6  # more are rarely worth reading; --json gives all
SHOWN_PREDICTIONS = 4


def check_text(check: Check) -> str:
    """Return a check as an instruction: 'locking: voltage at Y1.1'."""
    across = f" to {check.to}" if check.to else ""
    return f"{check.state}: {check.quantity} at {check.at}{across} ({check.instrument})"


def diagnosis_json(found: Diagnosis) -> dict[str, object]:
    """Return a diagnosis in the shape of the contract."""
    return {
        "suspects": [
            {"id": one.id, "element": one.element, "kind": one.kind,
             "probability": one.probability,
             "severity_ohms": None if one.severity is None else {
                 "low": one.severity.low_ohm, "mid": one.severity.mid_ohm,
                 "high": one.severity.high_ohm},
             "repair": one.repair} for one in found.suspects],
        "no_fault": found.no_fault,
        "unmodelled": found.unmodelled,
        "next_checks": [
            {"state": one.check.state, "quantity": one.check.quantity, "at": one.check.at,
             "to": one.check.to, "instrument": one.check.instrument, "minutes": one.minutes,
             "gain_bits": one.gain_bits, "predicts": dict(one.predicts)}
            for one in found.next_checks],
        "verdict": {"status": found.verdict.status, "repair": found.verdict.repair,
                    "confidence": found.verdict.confidence, "why": found.verdict.why},
    }


def print_readings(evidence: Sequence[Evidence], diagnosis: Diagnosis) -> None:
    """Print each reading with what it says between the first two suspects."""
    said = {one.index: one.text for one in diagnosis.explanation}
    show.heading("Readings")
    for index, taken in enumerate(evidence):
        seen = show.value_text(taken.value, taken.check.unit)
        show.line(f"{index + 1:2}. " + said.get(index, f"{check_text(taken.check)}: {seen}"))
    if diagnosis.clues:
        show.heading("What else is known")
    for one in diagnosis.clues:
        show.line(f"  - {one.text}")


def print_diagnosis(diagnosis: Diagnosis, led_to: Sequence[LedTo] = (), *,
                    repaired: bool = False) -> None:
    """Print suspects, what they blew, next checks and the verdict; `repaired`: before a repair."""
    print_suspects(diagnosis, repaired=repaired)
    for one in led_to:
        show.line(f"  - {one.text}")
    if diagnosis.next_checks:
        show.heading("Next checks")
        show.table(("min>", "check", "place", "bits>", "what each suspect predicts"),
                   (_check_row(one, diagnosis.suspects) for one in diagnosis.next_checks))
    show.heading("Verdict")
    show.line(verdict_sentence(diagnosis))


def print_suspects(diagnosis: Diagnosis, *, repaired: bool = False) -> None:
    """Print the suspects with their probabilities; after a repair they tell of before it."""
    show.heading("Suspects before the repair" if repaired else "Suspects")
    rows = [(_percent(one.probability), one.id, _severity(one), one.repair)
            for one in diagnosis.suspects[:SHOWN_SUSPECTS]]
    if len(diagnosis.suspects) > SHOWN_SUSPECTS:
        listed = sum(one.probability for one in diagnosis.suspects[:SHOWN_SUSPECTS])
        rest = max(1.0 - listed - diagnosis.no_fault - diagnosis.unmodelled, 0.0)
        rows.append((_percent(rest), "all others together", "", ""))
    rows.append((_percent(diagnosis.no_fault), "no fault", "", ""))
    rows.append((_percent(diagnosis.unmodelled), "something this circuit does not show", "", ""))
    show.table(("chance>", "suspect", "added resistance", "repair"), rows)


def verdict_sentence(diagnosis: Diagnosis) -> str:
    """Return the verdict as one sentence."""
    verdict = diagnosis.verdict
    if verdict.status == "repair":
        return f"Repair: {verdict.repair} ({_percent(verdict.confidence)} sure). {verdict.why}"
    return f"{verdict.status.capitalize()}. {verdict.why}"


def _check_row(one: NextCheck, suspects: Sequence[Suspect]) -> tuple[str, ...]:
    """Return a next check with what the leading suspects would show."""
    ids = [suspect.id for suspect in suspects if suspect.id in one.predicts][:SHOWN_PREDICTIONS]
    predicted = "; ".join(
        f"{name} {show.predicted_text(one.predicts[name], one.check.unit)}" for name in ids)
    return (f"{one.minutes:.1f}", check_text(one.check), one.check.place,
            f"{one.gain_bits:.2f}", predicted)


def _percent(share: float) -> str:
    """Return a probability in percent; neither 0 nor 100 unless it is."""
    if 0 < share < 0.001:
        return "< 0.1 %"
    if 0.999 < share < 1:
        return "> 99.9 %"
    return f"{100 * share:.1f} %"


def _severity(suspect: Suspect) -> str:
    """Return the range of added resistance, or nothing for a fault that has none."""
    if suspect.severity is None:
        return ""
    low, high = suspect.severity.low_ohm, suspect.severity.high_ohm
    return f"{show.quantity(low, 'ohm')} to {show.value_text(high, 'ohm')}"
