"""An exercise as a page or a terminal shows it; nothing here tells the fault before the end."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from loomwright.service.cautions import cautions_for
from loomwright.service.words import (
    check_title,
    element_words,
    fault_words,
    minutes_words,
    percent,
    value_words,
)

if TYPE_CHECKING:
    from loomwright.diagnosis import Evidence
    from loomwright.plant import Check
    from loomwright.practice import Attempt, Prediction, Price, ReplayLine, Score
    from loomwright.service.benches import Bench
    from loomwright.service.records import Caution

__all__ = ["PracticeView", "ReadingShown", "ReplayShown", "Result", "attempt_view", "result_of"]

NOTHING_MORE_BITS = 0.01
TURNING = {"motor", "starter"}


@dataclass(frozen=True, slots=True)
class ReadingShown:
    """One reading of the apprentice beside the prediction and a healthy circuit."""

    number: int
    title: str
    state: str
    instrument: str
    predicted: str
    shown: str
    healthy: str
    says: str
    finding: bool
    good_prediction: bool
    minutes: str


@dataclass(frozen=True, slots=True)
class ReplayShown:
    """One step of the replay: what it told and what would have told more."""

    number: int
    title: str
    bits: float
    minutes: float
    better: str
    better_bits: float
    better_minutes: float
    proved: bool
    belief: str
    text: str


@dataclass(frozen=True, slots=True)
class Result:
    """The end of an attempt. `rows` are label, apprentice, engine."""

    points: int
    right: bool
    headline: str
    fault: str
    where: str
    sentences: tuple[str, ...]
    rows: tuple[tuple[str, str, str], ...]
    best_readings: tuple[str, ...]
    replay: tuple[ReplayShown, ...]
    proved_at: int | None  # readings after which the evidence was enough; None: never
    score: Score = field(repr=False)


@dataclass(frozen=True, slots=True)
class PracticeView:
    """Everything an exercise's page shows."""

    id: str
    title: str
    level: int
    level_name: str
    who: str
    attempt: int
    cautions: tuple[Caution, ...]
    complaint: tuple[str, ...]
    states: tuple[tuple[str, str], ...]
    names: tuple[str, ...]
    repairs: tuple[tuple[str, str], ...]
    readings: tuple[ReadingShown, ...]
    minutes: str
    over: bool
    result: Result | None
    drawing: str = field(repr=False)


def title_of(bench: Bench, check: Check) -> str:
    """Return a reading in words, with its instrument where that is not the usual one."""
    words = check_title(bench.circuit, check, bench.negative)
    return f"{words}, {check.instrument}" if check.instrument.endswith("lamp") else words


def attempt_view(bench: Bench, attempt: Attempt, who: str, count: int, result: Result | None
                 ) -> PracticeView:
    """Return an attempt as shown; `count` says which try it is."""
    from loomwright.practice.exercise import LEVELS
    from loomwright.service.words import state_words

    circuit, exercise = bench.circuit, attempt.exercise
    names = [*circuit.points(), *circuit.wires, *(part for part in circuit.parts)]
    items = [f"{part}.{name}" for part in circuit.parts for name in _items(bench, part)]
    return PracticeView(
        exercise.id, circuit.title, exercise.level, LEVELS[exercise.level].name, who, count,
        cautions_for(circuit),
        tuple(complaint_words(bench, item) for item in exercise.complaint),
        tuple((name, f"{name} ({state_words(circuit, name)})") for name in circuit.states),
        tuple(dict.fromkeys([*names, *items])),
        tuple(sorted(((one.id, one.text) for one in bench.repairs.values()),
                     key=lambda pair: pair[1])),
        tuple(reading_shown(bench, attempt, number) for number in range(len(attempt.taken))),
        minutes_words(attempt.check_minutes), attempt.repair is not None, result,
        plain_drawing(bench))


def plain_drawing(bench: Bench) -> str:
    """Return the circuit without any value: what a wiring diagram shows."""
    from loomwright.circuit import draw_circuit

    return draw_circuit(bench.circuit)


def _items(bench: Bench, part: str) -> list[str]:
    """Return the inputs and outputs that a controller lists."""
    found: list[str] = []
    for key in ("inputs", "outputs"):
        items = bench.circuit.parts[part].params.get(key)
        if isinstance(items, tuple):
            found += [item.id for item in items if hasattr(item, "id")]
    return found


def complaint_words(bench: Bench, item: Evidence) -> str:
    """Return one thing the driver saw: 'B1 (Horn) is off in 'sounding'; it should be on.'"""
    from loomwright.practice.compare import healthy_value

    if not item.check.levels:
        return _measured_words(bench, item)
    name, _, listed = item.check.at.partition(".")
    part = bench.circuit.parts[name]
    label = f"{part.label} ({part.id})" if part.label else part.id
    good = healthy_value(bench.table, item.check)
    if listed:
        return (f"State '{item.check.state}': {label} lists {listed} as {item.value}; it should "
                f"be {good}.")
    shown, wanted = (said_words(bench, item.check, one) for one in (item.value, good))
    return f"State '{item.check.state}': {label} is {shown}; it should be {wanted}."


def _measured_words(bench: Bench, item: Evidence) -> str:
    """Return what the workshop measured: 'BAT stands at 12.30 V; it should be about 14.00 V.'"""
    from loomwright.practice.compare import healthy_value

    check = item.check
    name = check.at.partition(".")[0]
    label = bench.circuit.parts[name].label
    what = (f"{f'{label} ({name})' if label else f'battery {name}'} stands at"
            if check.quantity == "voltage" else f"between {check.at} and {check.to} a meter shows")
    return (f"State '{check.state}': {what} {value_words(check, item.value)}; it should be about "
            f"{value_words(check, healthy_value(bench.table, check))}.")


def said_words(bench: Bench, check: Check, value: float | str | None) -> str:
    """Return a value as one says it: only what turns is slow, a heater or a horn is weak."""
    part = bench.circuit.parts.get(check.at)
    if value == "slow" and part is not None and part.kind not in TURNING:
        return "weak"
    return value_words(check, value)


def reading_shown(bench: Bench, attempt: Attempt, number: int) -> ReadingShown:
    """Return a reading beside its prediction."""
    from loomwright.practice.attempt import judge

    taken = attempt.taken[number]
    check = taken.check
    found = judge(bench.table, taken, bench.circuit.system_v)
    said = ("not predicted" if found.predicted is None
            else said_words(bench, check, found.predicted))
    healthy = said_words(bench, check, found.healthy)
    return ReadingShown(
        number + 1, title_of(bench, check), check.state, check.instrument, said,
        said_words(bench, check, taken.value), healthy, _says(found, healthy), found.differs,
        found.right_if_healthy or found.right_here, minutes_words(taken.minutes))


def _says(found: Prediction, healthy: str) -> str:
    """Return what the comparison says."""
    finding = "This vehicle differs: a finding." if found.differs else "No difference here."
    if found.predicted is None:
        return f"A healthy circuit shows {healthy}. {finding}"
    if found.right_if_healthy:
        return f"Well predicted for a healthy circuit. {finding}"
    if found.right_here:
        return f"Well predicted for this vehicle; a healthy one shows {healthy}. {finding}"
    return f"Reckon again: a healthy circuit shows {healthy}. {finding}"


def result_of(bench: Bench, attempt: Attempt, score: Score, lines: tuple[ReplayLine, ...]
              ) -> Result:
    """Return the end of an attempt in words."""
    fault = attempt.exercise.fault
    name, where = element_words(bench.circuit, fault.element)
    ohms = f", {fault.ohms:.3g} ohm" if fault.ohms is not None else ""
    needed = next((line.number - 1 for line in lines if line.proved), None)
    if needed is None and score.mine.belief >= bench.table.settings.confidence:
        needed = len(lines) if score.mine.right else None
    return Result(
        score.points, score.mine.right, _headline(score, bench),
        f"{name} {fault_words(fault.kind)}{ohms}", where,
        tuple(_sentences(bench, attempt, score, needed)), _rows(bench, score),
        tuple(_best_line(bench, item) for item in score.best_readings),
        tuple(_replayed(bench, line) for line in lines), needed, score)


def _headline(score: Score, bench: Bench) -> str:
    repair = bench.repairs.get(score.mine.repair)
    if repair is None:
        return "Given up: no repair named."
    named = repair.text
    return f"Right: {named}." if score.mine.right else f"Not the fault: {named}."


def _sentences(bench: Bench, attempt: Attempt, score: Score, needed: int | None) -> list[str]:
    mine = score.mine
    found = []
    true = bench.repairs[attempt.exercise.fault.repair].text
    if not mine.repair:
        found.append(f"The repair was: {true}. Giving up is charged as a comeback of "
                     f"{bench.table.settings.comeback_min:.0f} min, and that repair is still to "
                     "do; a wrong part would have cost more.")
    elif not mine.right:
        found.append(f"The repair was: {true}. A wrong one costs its own work and part and a "
                     f"comeback of {bench.table.settings.comeback_min:.0f} min, and the right one "
                     "is still to do.")
        found.append(f"After your readings the chance of your repair was {percent(mine.belief)}.")
    elif mine.belief < bench.table.settings.confidence:
        found.append(f"Your readings made it {percent(mine.belief)} likely: partly a guess. The "
                     "chance that it was wrong is charged.")
    if needed is not None and needed < len(attempt.taken):
        spare = sum(one.minutes for one in attempt.taken[needed:])
        found.append(f"After {_count(needed)} the evidence was already enough; the "
                     f"{minutes_words(spare)} after that were not needed.")
    elif needed is not None:
        found.append("You stopped when the evidence was enough, and not later.")
    return found


def _count(number: int) -> str:
    return f"{number} reading{'' if number == 1 else 's'}"


def _rows(bench: Bench, score: Score) -> tuple[tuple[str, str, str], ...]:
    def both(label: str, tell: str, unit: str) -> tuple[str, str, str]:
        first, second = getattr(score.mine, tell), getattr(score.best, tell)
        return label, f"{first:.0f}{unit}", f"{second:.0f}{unit}"

    def named(one: Price) -> str:
        repair = bench.repairs.get(one.repair)
        return f"{repair.text if repair else 'none'} ({'right' if one.right else 'wrong'})"

    return (
        ("Readings", str(score.mine.readings), str(score.best.readings)),
        both("Checking", "checks_min", " min"),
        ("Repair named", named(score.mine), named(score.best)),
        ("Shown by the readings", percent(score.mine.belief), percent(score.best.belief)),
        both("The right repair", "repair_min", " min"),
        both("Wrong parts, comeback, luck", "miss_min", " min"),
        both("All, in minutes", "total_min", " min"),
        both("Parts, money", "parts_money", ""),
    )


def _best_line(bench: Bench, item: Evidence) -> str:
    return (f"{title_of(bench, item.check)}, state '{item.check.state}': "
            f"{value_words(item.check, item.value)}")


def _replayed(bench: Bench, line: ReplayLine) -> ReplayShown:
    title = title_of(bench, line.taken.check)
    better = ""
    if line.best is not None:
        better = f"{title_of(bench, line.best)}, state '{line.best.state}'"
    if line.proved:
        text = "Not needed: the evidence was already enough."
    elif line.better_was_there:
        text = (f"{better} would have told more: {line.best_bits:.2f} bits in "
                f"{line.best_minutes:.1f} min, {line.best_rate:.2f} bits per minute against "
                f"{line.rate:.2f}.")
    elif line.bits < NOTHING_MORE_BITS:
        text = "This could hardly tell the suspects apart any more."
    else:
        text = "As good as any check at that moment."
    return ReplayShown(
        line.number, title, line.bits, line.taken.minutes, better, line.best_bits,
        line.best_minutes, line.proved, percent(line.belief), text)
