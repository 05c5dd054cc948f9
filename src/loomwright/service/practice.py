"""The practice bench's use cases: start an exercise, measure blind, name a repair, see progress."""

from __future__ import annotations

import functools
import hashlib
import secrets
import threading
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loomwright.errors import ConflictError, NotFoundError, QuantityError, UsageError
from loomwright.service.benches import Benches
from loomwright.service.practice_signing import SIGN_OFF, sign_off_body, standing_sign_offs
from loomwright.service.practice_vehicle import vehicles_of
from loomwright.service.practice_view import attempt_view, reading_shown, result_of
from loomwright.service.records import ReadingForm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from loomwright.plant import Check
    from loomwright.practice import Attempt, Entry, Exercise, Level, Task
    from loomwright.practice.exercise import Oracle
    from loomwright.service.benches import Bench
    from loomwright.service.practice_signing import SignOff
    from loomwright.service.practice_view import PracticeView, Result

__all__ = ["Asked", "Done", "PersonProgress", "Practice", "PracticeCircuit", "Sheet", "SheetLine"]

DEMO = "demo-truck"
OWN = "own-"
FOLDER = "practice"
MAX_NAME = 60
MOST_READINGS = 200
KEPT_RESULTS = 256
UNKNOWN_WORDS = {"?", "-", "unknown", "don't know", "do not know"}


@dataclass(frozen=True, slots=True)
class PracticeCircuit:
    """A circuit to practise on."""

    key: str
    title: str
    group: str


@dataclass(frozen=True, slots=True)
class Asked(ReadingForm):
    """A reading asked for, with what the apprentice predicts ('?' where not known)."""

    predict: str = ""


@dataclass(frozen=True, slots=True)
class Done:
    """One ended exercise of a person."""

    at: str
    exercise: str
    level: int
    attempt: int
    right: bool
    points: int
    minutes: float
    best_minutes: float
    predicted: int
    predicted_right: int
    tasks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PersonProgress:
    """What a person has practised; `by_level` is level, ended, right, mean points."""

    who: str
    done: tuple[Done, ...]
    by_level: tuple[tuple[Level, int, int, int], ...]


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One task with the exercises that showed it (first tries only), and who signed it."""

    task: Task
    exercises: tuple[str, ...]
    best_level: int
    signed: SignOff | None = None


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sign-off sheet: tasks, what practice showed of them, room for signatures."""

    who: str
    lines: tuple[SheetLine, ...]
    progress: PersonProgress


class Practice:
    """The practice bench on one data folder."""

    def __init__(self, folder: Path) -> None:
        """Keep the data folder; nothing is made in it before somebody practises."""
        from loomwright.service.practice_log import StoreProgress

        self._folder = folder / FOLDER
        self.log = StoreProgress(folder, self._folder)
        self._benches = Benches(self._text)
        self._lock = threading.RLock()
        self._results: dict[tuple[object, ...], Result] = {}

    def close(self) -> None:
        """Let go of the store."""
        self.log.close()

    # --- circuits --------------------------------------------------------------------------

    def circuits(self) -> tuple[PracticeCircuit, ...]:
        """Return the circuits to practise on: the demo truck, the templates, your own."""
        return (*_known_circuits(), *self._own())

    def add_circuit(self, text: str) -> str:
        """Keep a circuit of one's own and return its name here.

        Raises
            UsageError: the circuit has problems, or nothing in it can be seen to work
        """
        from loomwright.practice.exercise import LEVELS, levels_of
        from loomwright.service.jobs import check_circuit

        check_circuit(text)
        key = OWN + hashlib.sha256(text.encode()).hexdigest()[:10]
        path = self._own_path(key)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        pools = levels_of(self._bench(key).table)
        if not any(pools[level] for level in LEVELS):
            path.unlink()
            raise UsageError("No fault of this circuit would be noticed by a driver.",
                             next_step="Give it a load and the states it is used in.")
        return key

    def _own(self) -> tuple[PracticeCircuit, ...]:
        folder = self._own_path(OWN).parent
        names = sorted(path.stem for path in folder.glob(f"{OWN}*.yaml"))
        return tuple(PracticeCircuit(name, self._benches.get(name).circuit.title, "Your own")
                     for name in names)

    def _own_path(self, key: str) -> Path:
        return self._folder / "circuits" / f"{key}.yaml"

    def _text(self, key: str) -> str:
        from loomwright.circuit.templates import template_names, template_text

        if key == DEMO:
            demo = files("loomwright.demo") / "tailgate_lock.yaml"
            return demo.read_text(encoding="utf-8")
        if key in template_names():
            return template_text(key)
        path = self._own_path(key)
        if key.startswith(OWN) and key.replace("-", "").isalnum() and path.is_file():
            return path.read_text(encoding="utf-8")
        raise NotFoundError(f"There is no circuit '{key[:60]}' to practise on.",
                            next_step="Choose one from the list.")

    def _bench(self, key: str) -> Bench:
        return self._benches.get(key).ready()

    def levels(self) -> tuple[Level, ...]:
        """Return the levels, the easiest first."""
        from loomwright.practice import LEVELS

        return tuple(LEVELS.values())

    def drawn(self, exercise_id: str) -> tuple[str, int, int]:
        """Return circuit, level and seed of an exercise's name. Raises UsageError."""
        from loomwright.practice import read_id

        return read_id(exercise_id)

    # --- an exercise -----------------------------------------------------------------------

    def start(self, who: str, drawn: tuple[str, int, int | None], key: str = "") -> str:
        """Start an exercise and return its name; started again, it is a further try.

        Parameters
            who: the apprentice
            drawn: circuit, level 1 to 3, seed (None: drawn by chance)
            key: of this submission; the same key starts nothing twice
        Raises
            UsageError, NotFoundError: no name, no such circuit or level, no fault of the level
        """
        circuit, level, seed = drawn
        who = _name(who)
        known = [one for one in self.log.entries(who) if key and one.key == key]
        if known:
            return known[0].exercise
        if seed is None:
            seed = secrets.randbelow(1_000_000)
        with self._lock:
            exercise = self._exercise(circuit, level, seed)
            self.log.append(who, exercise.id, "start", {"pool": exercise.pool}, key)
        return exercise.id

    def view(self, exercise_id: str, who: str) -> PracticeView:
        """Return an exercise as it stands for a person. Raises NotFoundError, UsageError."""
        with self._lock:
            attempt, count = self._attempt(exercise_id, who)
            bench = self._bench(attempt.exercise.circuit)
            result = None if attempt.repair is None else self._result(attempt)
            return attempt_view(bench, attempt, who, count, result)

    def measure(self, exercise_id: str, who: str, asked: Asked, key: str = "") -> str:
        """Take a reading and return what the comparison with the prediction says.

        Raises
            UsageError: no prediction, a prediction that cannot be read, a reading that is none
            ConflictError: the exercise has ended
        """
        from loomwright.practice import take

        who = _name(who)
        with self._lock:
            attempt = self._running(exercise_id, who)
            bench = self._bench(attempt.exercise.circuit)
            check = bench.plant.check_for(asked.state, asked.quantity, asked.at.strip(),
                                          asked.to.strip(), asked.instrument.strip())
            said = _predicted(bench, check, asked.predict)
            after = take(bench.table, attempt, check, said, self._oracle(attempt.exercise))
            taken = after.taken[-1]
            body = {"state": check.state, "quantity": check.quantity, "at": check.at,
                    "to": check.to, "instrument": check.instrument, "predicted": said,
                    "value": taken.value, "minutes": taken.minutes}
            self.log.append(who, exercise_id, "reading", body, key)
            return reading_shown(bench, after, len(after.taken) - 1).says

    def name_repair(self, exercise_id: str, who: str, repair: str, key: str = "") -> Result:
        """End an exercise by naming a repair ('' gives up), and return how it went.

        Raises
            UnknownNameError: the circuit has no such repair
            ConflictError: the exercise has ended
        """
        from loomwright.errors import UnknownNameError
        from loomwright.practice import Seen, shown_tasks

        who = _name(who)
        with self._lock:
            attempt = self._running(exercise_id, who)
            bench = self._bench(attempt.exercise.circuit)
            if repair and repair not in bench.repairs:
                raise UnknownNameError("repair", repair, bench.repairs)
            ended = replace(attempt, repair=repair)
            result = self._result(ended)
            shown = [reading_shown(bench, ended, n) for n in range(len(ended.taken))]
            predicted = sum(one.predicted is not None for one in ended.taken)
            right = sum(one.good_prediction for one in shown)
            group = next((one.group for one in _known_circuits()
                          if one.key == ended.exercise.circuit), "")
            seen = Seen(bench.circuit, group, result.score.mine.belief, right)
            body = {"repair": repair, "right": result.right, "points": result.points,
                    "minutes": round(result.score.mine.total_min, 2),
                    "best_minutes": round(result.score.best.total_min, 2),
                    "level": ended.exercise.level, "predicted": predicted,
                    "predicted_right": right, "tasks": list(shown_tasks(ended, seen))}
            self.log.append(who, exercise_id, "end", body, key)
            return result

    # --- progress --------------------------------------------------------------------------

    def people(self) -> tuple[str, ...]:
        """Return everybody who has ended an exercise, by name."""
        return tuple(sorted({one.who for one in self.log.entries() if one.what == "end"}))

    def progress(self, who: str) -> PersonProgress:
        """Return what a person has practised, newest last."""
        from loomwright.practice import LEVELS

        tries: dict[str, int] = {}
        done = []
        for entry in self.log.entries(who):
            if entry.what == "end":
                tries[entry.exercise] = tries.get(entry.exercise, 0) + 1
                done.append(_done(entry, tries[entry.exercise]))
        levels = []
        for level in LEVELS.values():
            own = [one for one in done if one.level == level.number and one.attempt == 1]
            mean = round(sum(one.points for one in own) / len(own)) if own else 0
            levels.append((level, len(own), sum(one.right for one in own), mean))
        return PersonProgress(who, tuple(done), tuple(levels))

    def sheet(self, who: str) -> Sheet:
        """Return a person's sign-off sheet; only first tries count as shown."""
        from loomwright.practice import TASKS

        progress = self.progress(_name(who))
        first = [one for one in progress.done if one.attempt == 1]
        signed = standing_sign_offs(self.log.entries(progress.who))
        lines = []
        for task in TASKS:
            own = [one for one in first if task.id in one.tasks]
            lines.append(SheetLine(task, tuple(one.exercise for one in own),
                                   max((one.level for one in own), default=0),
                                   signed.get(task.id)))
        return Sheet(progress.who, tuple(lines), progress)

    def sign_off(self, who: str, task: str, by: str, said: tuple[bool, str], key: str = "") -> None:
        """Sign a task of a person's sheet, or take a signature back; both stay on record.

        Parameters
            who: the apprentice
            task: the task's id
            by: the supervisor
            said: whether it is signed (False takes back), and a note (when taken back, the reason)
            key: of this submission; the same key counts once
        Raises
            UnknownNameError, UsageError: no such task, no name, own work, no reason
        """
        who, (signed, note) = _name(who), said
        body = sign_off_body(task, by, note, signed)
        if str(body["by"]).casefold() == who.casefold():
            raise UsageError("Nobody signs their own sheet.", next_step="Ask a supervisor.")
        if who not in {one.who for one in self.log.entries(who)}:
            raise NotFoundError(f"{who} has not practised yet.", next_step="Check the name.")
        self.log.append(who, "", SIGN_OFF, body, key)

    # --- inside ----------------------------------------------------------------------------

    def _exercise(self, circuit: str, level: int, seed: int) -> Exercise:
        self._text(circuit)
        bench = self._bench(circuit)
        return _hidden(bench, circuit, level, seed)

    def _oracle(self, exercise: Exercise) -> Oracle:
        bench = self._bench(exercise.circuit)
        return vehicles_of(bench.plant)(exercise.fault, exercise.seed)

    def _attempt(self, exercise_id: str, who: str) -> tuple[Attempt, int]:
        """Return the last try of a person at an exercise and its number."""
        from loomwright.practice import Attempt, read_id

        exercise = self._exercise(*read_id(exercise_id))
        entries = self.log.entries(who, exercise_id)
        starts = [number for number, one in enumerate(entries) if one.what == "start"]
        own = entries[starts[-1]:] if starts else ()
        if own and own[0].body["pool"] != exercise.pool:
            raise ConflictError("The circuit's faults have changed since this exercise began.",
                                next_step="Start it again.")
        taken = tuple(self._taken(exercise, one.body) for one in own if one.what == "reading")
        repair = next((str(one.body["repair"]) for one in own if one.what == "end"), None)
        return Attempt(exercise, taken, repair), max(len(starts), 1)

    def _taken(self, exercise: Exercise, body: Any) -> Any:
        from loomwright.practice import Taken

        check = self._bench(exercise.circuit).plant.check_for(
            body["state"], body["quantity"], body["at"], body["to"], body["instrument"])
        return Taken(check, body["predicted"], body["value"], float(body["minutes"]))

    def _running(self, exercise_id: str, who: str) -> Attempt:
        """Return a try that has not ended; the first thing done in an exercise starts it."""
        attempt, _ = self._attempt(exercise_id, who)
        if attempt.repair is not None:
            raise ConflictError("This exercise has ended.", next_step="Start it again, or another.")
        if len(attempt.taken) >= MOST_READINGS:
            raise UsageError(f"{MOST_READINGS} readings are enough.", next_step="Name a repair.")
        if not self.log.entries(who, exercise_id):
            self.log.append(who, exercise_id, "start", {"pool": attempt.exercise.pool}, "")
        return attempt

    def _result(self, attempt: Attempt) -> Result:
        from loomwright.practice import replay, score

        key = (attempt.exercise.id, attempt.exercise.pool, attempt.taken, attempt.repair)
        if key not in self._results:
            bench = self._bench(attempt.exercise.circuit)
            found = score(bench.table, attempt, self._oracle(attempt.exercise))
            lines = replay(bench.table, attempt)
            if len(self._results) >= KEPT_RESULTS:
                self._results.pop(next(iter(self._results)))
            self._results[key] = result_of(bench, attempt, found, lines)
        return self._results[key]


@functools.cache
def _known_circuits() -> tuple[PracticeCircuit, ...]:
    """Return the circuits that come with the program."""
    from loomwright.circuit.templates import template, template_names

    demo = PracticeCircuit(DEMO, "Tailgate lock, rear-loader refuse truck", "Demo depot")
    rest = [PracticeCircuit(name, template(name).title, template(name).group)
            for name in template_names()]
    return (demo, *sorted(rest, key=lambda one: (one.group, one.title)))


@functools.lru_cache(maxsize=256)
def _hidden(bench: Bench, circuit: str, level: int, seed: int) -> Exercise:
    from loomwright.practice import hide

    return hide(bench.table, circuit, level, seed, vehicles_of(bench.plant))


def _name(who: str) -> str:
    """Return a person's name. Raises UsageError where there is none."""
    name = " ".join(who.split())[:MAX_NAME]
    if not name:
        raise UsageError("Nobody's name is given.", next_step="Say who is practising.")
    return name


def _predicted(bench: Bench, check: Check, text: str) -> float | str | None:
    """Return a prediction as a value; a bare number has the check's own unit."""
    said = text.strip()
    if not said:
        raise UsageError("There is no prediction yet.", next_step="Say what a good circuit should "
                         "show here: on or off, or about how much; '?' when you cannot say.")
    if said.lower() in UNKNOWN_WORDS:
        return None
    if check.levels:
        return _predicted_level(bench, check, said)
    words = said.lower().removeprefix("about ").replace(",", ".").strip()
    if words[-1:].isdigit():
        words = f"{words} {check.unit}"
    try:
        return bench.plant.value_of(check, words)
    except QuantityError as error:
        raise UsageError(f"The prediction '{said[:40]}' cannot be read: {error.message}",
                         next_step=f"Give it in {check.unit}, like '12 {check.unit}'.") from error


def _predicted_level(bench: Bench, check: Check, said: str) -> float | str:
    """Return a prediction of what is no number; raises UsageError where it names nothing to see."""
    from loomwright.errors import UnknownNameError

    word = "slow" if said.lower() == "weak" and "slow" in check.levels else said
    try:
        return bench.plant.value_of(check, word)
    except UnknownNameError as error:
        raise UsageError(f"'{said[:40]}' is not what the {check.instrument} can tell here.",
                         next_step=f"Say {', '.join(check.levels[:-1])} or {check.levels[-1]}; "
                         "'?' when you cannot say.") from error


def _done(entry: Entry, attempt: int) -> Done:
    body = entry.body
    return Done(entry.at, entry.exercise, int(body["level"]), attempt, bool(body["right"]),
                int(body["points"]), float(body["minutes"]), float(body["best_minutes"]),
                int(body["predicted"]), int(body["predicted_right"]),
                _texts(body["tasks"]))


def _texts(items: Sequence[object]) -> tuple[str, ...]:
    return tuple(str(item) for item in items)
