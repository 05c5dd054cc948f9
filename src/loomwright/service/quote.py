"""Use case: an estimate or a quote for a job, testing first beside swapping parts.

Playing the job through takes seconds, so it is done in the background and its answer is kept; the
same readings, rates and circuit give the same figures as long as the time is enough for all
episodes, and the answer says how many there were.
"""

from __future__ import annotations

import dataclasses
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from loomwright.errors import ConflictError, LoomwrightError, UsageError
from loomwright.jobs.records import NewEvent
from loomwright.service import reasoning
from loomwright.service.money import canonical, taxed, two_places
from loomwright.service.words import percent

if TYPE_CHECKING:
    from loomwright.diagnosis.estimate import Estimate
    from loomwright.jobs.rates import Rates
    from loomwright.jobs.records import History
    from loomwright.service.benches import Bench
    from loomwright.service.jobs import Workshop
    from loomwright.service.office import Sender

__all__ = ["Foresight", "SwapLine", "Way", "foresee", "give_offer", "swap_lines"]

EPISODES = 60
SECONDS = 15.0
KEPT = 50  # answers
SHOWN_SWAPS = 8
FORMS = ("estimate", "quote")


@dataclass(frozen=True, slots=True)
class Way:
    """One way to go about the job: minutes, and money without tax, then with it."""

    name: str
    minutes: tuple[Decimal, Decimal, Decimal]  # mean, half of such jobs, nine of ten
    net: tuple[Decimal, Decimal, Decimal]
    gross: tuple[Decimal, Decimal, Decimal]
    wrong_parts: Decimal


@dataclass(frozen=True, slots=True)
class SwapLine:
    """A repair in the order in which parts would be swapped, and what it costs to get there.

    `reached` is the chance that the job gets this far, `spent` the money without tax by then.
    """

    text: str
    chance: str
    price: Decimal
    minutes: Decimal
    reached: str
    spent: Decimal


@dataclass(frozen=True, slots=True)
class Foresight:
    """What a job will take: `ready` is False while it is still being worked out."""

    ready: bool
    problem: str = ""
    ways: tuple[Way, ...] = ()
    swaps: tuple[SwapLine, ...] = ()
    stops: tuple[str, ...] = ()
    episodes: int = 0
    found: str = ""
    handed_on: str = ""


class _Kept:
    """Answers by what they were asked for; each is worked out once, in its own thread."""

    def __init__(self) -> None:
        self._answers: dict[Any, Estimate | str | None] = {}
        self._lock = threading.Lock()

    def ask(self, key: Any, work: Callable[[], Estimate]) -> Estimate | str | None:
        """Return the answer, why there is none, or None while it is worked out."""
        with self._lock:
            if key in self._answers:
                return self._answers[key]
            if len(self._answers) >= KEPT:
                self._answers.pop(next(iter(self._answers)))
            self._answers[key] = None

        def run() -> None:
            answer: Estimate | str = "The program could not work this out."
            try:
                answer = work()
            except LoomwrightError as error:
                answer = str(error)
            finally:
                with self._lock:
                    self._answers[key] = answer

        threading.Thread(target=run, name="estimate", daemon=True).start()
        return None


_kept = _Kept()


def foresee(workshop: Workshop, job_id: int, *, wait_s: float = 0.0) -> Foresight:
    """Return what finding and mending a job will take, testing first and swapping parts.

    P50 and P90 by playing the job through (docs/models/estimates.md); the swaps by the suspects'
    chances and the prices and minutes of the circuit file. `wait_s`: how long to wait for it.
    Raises ConflictError after a repair: then what was spent is known, not foreseen.
    """
    import time

    from loomwright.jobs.rates import rates_of

    job, history, bench = workshop.opened(job_id)
    if history.proving or history.finish is not None:
        raise ConflictError("A repair was done; there is nothing left to estimate.",
                            next_step="See what the job has cost so far.")
    rates = rates_of(workshop.store)
    until = time.monotonic() + wait_s
    answer = _ask(job.circuit, history, bench, rates)
    while answer is None and time.monotonic() < until:
        time.sleep(0.05)
        answer = _ask(job.circuit, history, bench, rates)
    if answer is None:
        return Foresight(False)
    if isinstance(answer, str):
        return Foresight(True, problem=answer)
    return _foresight(answer, bench, history, rates)


def _ask(circuit: str, history: History, bench: Bench, rates: Rates) -> Estimate | str | None:
    evidence = reasoning.evidence_of(
        bench, reasoning.believed_readings(history), history.repairs)
    rejected = reasoning.rejected_repairs(history)
    rate_per_min = float(Decimal(rates.labour_rate_per_h or "0")) / 60.0

    def work() -> Estimate:
        from loomwright.diagnosis.estimate import Bounds, estimate

        bench.ready()
        settings = dataclasses.replace(bench.table.settings, labour_rate_per_min=rate_per_min)
        table = dataclasses.replace(bench.table, settings=settings)
        return estimate(table, evidence, Bounds(EPISODES, SECONDS, 1), rejected=rejected)

    return _kept.ask((circuit, evidence, rejected, rate_per_min), work)


def _foresight(found: Estimate, bench: Bench, history: History, rates: Rates) -> Foresight:
    tax = Decimal(rates.tax_percent or "0")

    def way(name: str, minutes: Any, money: Any, wrong: float) -> Way:
        figures = [(two_places(one.mean), two_places(one.p50), two_places(one.p90))
                   for one in (minutes, money)]
        mean, p50, p90 = (taxed(one, tax).gross for one in figures[1])
        return Way(name, figures[0], figures[1], (mean, p50, p90), two_places(wrong))

    stops = tuple(
        f"{100 * one.share:.0f} % are found after {one.minutes:.0f} minutes of checks"
        for one in found.stop_points if one.minutes is not None)
    return Foresight(
        True, ways=(way("Test first", found.test_first_min, found.test_first_money,
                        found.wrong_parts),
                    way("Swap parts", found.swap_first_min, found.swap_first_money,
                        found.swap_wrong_parts)),
        swaps=swap_lines(bench, history, rates), stops=stops, episodes=found.episodes,
        found=percent(found.found), handed_on=percent(found.handed_on))


def swap_lines(bench: Bench, history: History, rates: Rates) -> tuple[SwapLine, ...]:
    """Return repairs by falling chance, each with the chance of getting so far, and its cost."""
    diagnosis = reasoning.diagnosis_of(bench, history)
    shares: dict[str, float] = {}
    for one in diagnosis.suspects:
        if one.repair in bench.repairs:
            shares[one.repair] = shares.get(one.repair, 0.0) + one.probability
    found, reached, spent = [], 1.0, Decimal(0)
    for name, share in sorted(shares.items(), key=lambda pair: -pair[1])[:SHOWN_SWAPS]:
        repair = bench.repairs[name]
        minutes, price = two_places(repair.minutes), two_places(repair.price)
        spent += price + minutes * Decimal(rates.labour_rate_per_h or "0") / 60
        found.append(SwapLine(repair.text, percent(share), price, minutes, percent(reached),
                              two_places(spent)))
        reached = max(reached - share, 0.0)
    return tuple(found)


def give_offer(workshop: Workshop, job_id: int, said: Mapping[str, str], sender: Sender) -> int:
    """Record an estimate or a quote as it was told to the customer; return its number.

    `said` has form (estimate or quote), money and most (without tax; most is for an estimate),
    minutes and note. Tax rate and currency are kept with it as they are now.
    Raises UsageError where the form or the money is missing, or most is below money.
    """
    from loomwright.jobs.rates import rates_of

    _, history, _ = workshop.opened(job_id)
    if history.office.hand_over is not None:
        raise ConflictError("The vehicle of this job was handed over; nothing can be added.",
                            next_step="Open the job again first, from its page.")
    if said.get("form") not in FORMS:
        raise UsageError("It is not said whether this is an estimate or a quote.",
                         next_step="Choose one.")
    money = canonical(said.get("money", ""), "sum")
    most = canonical(said.get("most", ""), "upper sum")
    if not money:
        raise UsageError("The sum is missing.", next_step="Give it without tax.")
    if most and Decimal(most) < Decimal(money):
        raise UsageError(f"The upper sum {most} is below the sum {money}.",
                         next_step="Correct one of them.")
    note = said.get("note", "").strip()
    if len(note) > 2_000:
        raise UsageError("The note is too long; 2000 characters are the most.",
                         next_step="Shorten it.")
    rates = rates_of(workshop.store)
    body = {"form": said["form"], "money": money, "most": most, "note": note,
            "minutes": canonical(said.get("minutes", ""), "minutes"),
            "tax_percent": rates.tax_percent or "0", "tax_name": rates.tax_name,
            "currency": rates.currency}
    return workshop.store.add_event(job_id, NewEvent("offer", body, sender.key, sender.by)).number
