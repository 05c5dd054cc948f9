"""CircuitPlant: faults, checks and predicted readings of one circuit, for the diagnosis engine."""

from __future__ import annotations

import dataclasses
import functools
import math
from collections.abc import Mapping, Sequence

import numpy as np

from loomwright.circuit.faults import UNLISTED, faults_of, parse_fault
from loomwright.circuit.model import Circuit
from loomwright.circuit.plant.behaviour import (
    far_ends,
    grouped_rows,
    split_rows,
    straddling,
)
from loomwright.circuit.plant.book import Book, joined
from loomwright.circuit.plant.checks import CheckMaker
from loomwright.circuit.plant.consequences import consequences, stay_open
from loomwright.circuit.plant.free_sources import Responses
from loomwright.circuit.plant.hypotheses import FaultRow, fault_rows, repairs_of, with_ohms
from loomwright.circuit.plant.instruments import OPEN_LINE_OHM
from loomwright.circuit.plant.kept import Kept, fits
from loomwright.circuit.plant.margins import (
    MOST_LOOKS,
    MOST_OWN,
    complaint_checks,
    consumer_drops,
    element_drops,
    few_looks,
    few_paths,
    moved_rows,
    symptom_factor,
    under_load,
)
from loomwright.circuit.plant.offers import worth_offering
from loomwright.circuit.plant.predictions import (
    DRAWS,
    Reader,
    Sample,
    spread_out,
)
from loomwright.circuit.plant.stirring import coming_share, stirred_share, stirs_of
from loomwright.circuit.plant.unlisted import UNLISTED_DRAWS, by_place, unlisted_rows
from loomwright.circuit.plant.working import against_ohms, elements_of
from loomwright.errors import UnknownNameError, UsageError
from loomwright.plant import (
    NO_FAULT,
    Check,
    Consequence,
    FreeSources,
    Hypothesis,
    Prediction,
    Repair,
)
from loomwright.units import parse_quantity

__all__ = ["CircuitPlant"]

_MILD_OHM = 1.0  # a fault this small moves only what it is in series with
_OTHERS_KEPT = 4  # readers of rows of several faults
_OPEN_LINE_WORDS = {"ol", "o.l", "o/l", "open", "open line", "infinite", "inf", "overload"}
_LEVEL_WORDS = {
    "yes": "on", "no": "off", "bright": "on", "lit": "on", "running": "on", "true": "on",
    "false": "off", "out": "off", "weak": "dim", "stopped": "off", "glows": "dim",
}

_HEARD_WORDS = {"clicks": "click", "yes": "click", "true": "click", "on": "click",
                "chatters": "chatter", "buzzes": "chatter", "rattles": "chatter",
                "no": "silent", "false": "silent", "off": "silent", "nothing": "silent"}
_TURNS_WORDS = {"yes": "free", "true": "free", "on": "free", "turns": "free", "tight": "stiff",
                "no": "stuck", "false": "stuck", "off": "stuck", "seized": "stuck"}


class CircuitPlant:
    """One circuit as the plant of a diagnosis (protocol `loomwright.plant.Plant`).

    Everything is computed when first asked for and kept; the circuit itself never changes.
    Validity: direct current, steady states, single faults from `faults_of`, and any combination
    of them when a hypothesis joins their ids by '+'.
    """

    predicts_several = True  # any of its rows joined: see `Hypothesis.parts`

    def __init__(self, circuit: Circuit, kept: Kept | None = None) -> None:
        """Keep the circuit; nothing is solved yet.

        `kept` is what `to_keep` gave for the very same circuit: then little has to be solved.
        """
        self.circuit = circuit
        self._kept = kept
        self.maker = CheckMaker(circuit, self.places())
        self._made: dict[tuple[str, ...], Check] = {}  # by what was asked for
        self._others: dict[tuple[Hypothesis, ...], Reader] = {}
        self._opened: dict[tuple[str, object], tuple[Consequence, ...]] = {}
        self._opens: dict[tuple[str, object], frozenset[str]] = {}  # names alone

    # --- faults and repairs ------------------------------------------------------------------

    @functools.cached_property
    def _solved(self) -> tuple[tuple[FaultRow, ...], Book]:
        """Return the fault rows, cells that straddle a switching point split, and their readings.

        The rows of one fault stay together.
        """
        kept, against, rows = self._told()
        ends = far_ends(rows)  # read by nobody: they show where the last cells straddle
        reader = Reader(self.circuit, [(), *((row,) for row in (*rows, *ends.values()))])
        several = straddling(reader, rows, tuple(ends)) if kept is None else list(kept.several)
        split = split_rows(self.circuit, [rows[number] for number in several],
                           () if kept is None else kept.groups)
        known = {} if kept is None else kept.samples
        self._layout = (against, tuple(several), () if split is None else split.groups)
        if split is None:
            return rows, Book([reader], np.arange(len(rows) + 1), known)
        # place in the old order, place among the rows of both readers (no fault is the first), row
        keyed = [(number, number + 1, row) for number, row in enumerate(rows)
                 if number not in set(several)]
        keyed += [(several[cell], reader.count + number, row)
                  for number, (cell, row) in enumerate(zip(split.cells, split.rows, strict=True))]
        keyed.sort(key=lambda one: one[0])
        order = np.array([0, *(number for _, number, _ in keyed)], dtype=np.int64)
        return tuple(row for _, _, row in keyed), Book([reader, split.reader], order, known)

    def _told(self) -> tuple[Kept | None, Mapping[str, float], tuple[FaultRow, ...]]:
        """Return what was kept, what elements work against and the rows before any is split.

        What was kept for another circuit, or is out of range, counts as nothing.
        """
        kept, faults = self._kept, faults_of(self.circuit)
        if kept is not None:
            rows = fault_rows(faults, kept.against_ohm, DRAWS)
            if fits(kept, elements_of(self.circuit), len(rows)):
                return kept, kept.against_ohm, rows
        self._kept = None
        against = against_ohms(self.circuit)
        return None, against, fault_rows(faults, against, DRAWS)

    @property
    def from_kept(self) -> bool:
        """Whether what an earlier plant solved was taken over."""
        return self._solved[1] is not None and self._kept is not None

    def to_keep(self) -> Kept:
        """Return what was solved so far, for another plant of the very same circuit."""
        offered = tuple(check.id for check in self.checks())
        against, several, groups = self._layout
        return Kept(against, several, tuple((cell, tuple(draws)) for cell, draws in groups),
                    offered, self._solved[1].known())

    @property
    def _faults(self) -> tuple[FaultRow, ...]:
        return self._solved[0]

    @functools.cached_property
    def _index(self) -> dict[tuple[str, object], int]:
        keys = [_key(row.hypothesis) for row in self._faults]
        return {_key(NO_FAULT): 0, **{key: n for n, key in enumerate(keys, start=1)}}

    @functools.cached_property
    def _unlisted(self) -> tuple[tuple[FaultRow, ...], Book]:
        rows = unlisted_rows(self.circuit, UNLISTED_DRAWS)
        if not rows:
            return rows, Book([Reader(self.circuit, [])])
        reader = Reader(self.circuit, [(row,) for row in rows], UNLISTED_DRAWS)
        split = grouped_rows(reader, rows, [by_place(row) for row in rows])
        return split.rows, Book([split.reader])

    @functools.cached_property
    def _unlisted_index(self) -> dict[tuple[str, object], int]:
        return {_key(row.hypothesis): n for n, row in enumerate(self._unlisted[0])}

    def unlisted(self) -> Sequence[Hypothesis]:
        """Return rows for a load or joint that the file does not list, priors summing to one.

        Between every two nets of the circuit, by a resistance; see `unlisted_rows`.
        """
        return tuple(row.hypothesis for row in self._unlisted[0])

    @functools.cached_property
    def _responses(self) -> Responses:
        return Responses(self.circuit)

    def free_sources(self, checks: Sequence[Check]) -> FreeSources:
        """Return where an unknown current could flow, and how it moves readings: `Responses`."""
        return self._responses.sources(checks)

    def intermittent(self, row: Hypothesis) -> float:
        """Return the share of such faults that come and go; see `coming_share`."""
        return coming_share(row)

    def stirring(self, look: Check) -> tuple[Check, ...]:
        """Return looks at the same function while something is wiggled, heated or loaded."""
        return tuple(self.check_for(look.state, look.quantity, look.at, text, look.instrument)
                     for text in stirs_of(self.circuit))

    def stirred(self, row: Hypothesis, check: Check) -> float:
        """Return the chance that such a look brings a fault back; see `stirred_share`."""
        return stirred_share(self.circuit, row, check.to)

    @functools.cached_property
    def _hypotheses(self) -> tuple[Hypothesis, ...]:
        """Return the rows with their priors on a job: see `symptom_factor`."""
        looks = tuple(self.maker.functions())
        if not looks:  # nothing to notice: the faults keep their own priors
            return tuple(row.hypothesis for row in self._faults)
        factor = symptom_factor(self._samples_of(looks))[1:]
        return tuple(
            dataclasses.replace(row.hypothesis, prior=row.hypothesis.prior * float(share))
            for row, share in zip(self._faults, factor, strict=True)
        )

    def faults(self) -> Sequence[Hypothesis]:
        """Return every fault row, high resistances split into severity cells.

        Priors are those of a vehicle that came in: a severity that changes nothing a person or a
        controller would notice counts a twentieth.
        """
        return self._hypotheses

    def repairs(self) -> Mapping[str, Repair]:
        """Return the repair classes by id, minutes with reach and verifying."""
        return repairs_of(self.circuit, faults_of(self.circuit))

    def places(self) -> Mapping[str, float]:
        """Return minutes to reach each place."""
        return {name: place.reach_min for name, place in self.circuit.places.items()}

    def setups(self) -> Mapping[str, float]:
        """Return minutes to bring the vehicle into each state, and to isolate the circuit."""
        return self.maker.setups()

    # --- checks ------------------------------------------------------------------------------

    @functools.cached_property
    def _checks(self) -> tuple[Check, ...]:
        candidates = tuple({check.id: check for check in self.maker.candidates()}.values())
        if self.from_kept and self._kept is not None:
            offered = set(self._kept.offered)
            return tuple(check for check in candidates if check.id in offered)
        samples = self._samples_of(candidates)
        priors = np.array([1e-3, *(row.prior for row in self._hypotheses)])
        kept = worth_offering(candidates, samples, priors)
        return tuple(candidates[number] for number in kept)

    def checks(self) -> Sequence[Check]:
        """Return the checks worth offering: those whose reading some fault would change."""
        return self._checks

    def check_for(self, state: str, quantity: str, at: str, to: str = "",
                  instrument: str = "meter") -> Check:
        """Return the check that any reading somebody took answers.

        Parameters
            state: a state of the file ('' or 'isolated' for resistance and continuity)
            quantity: voltage, ac voltage, current, resistance, continuity, lit, running, heard,
                turns, input or output
            at, to: points; `at` may be a wire, a two-pin part or a connector way, `to` empty
            instrument: meter, test lamp, 21 W lamp, clamp, eye, ear, hand or controller
        Raises
            UnknownNameError: a name that is not in the circuit
            UsageError: a reading that cannot be taken so
        """
        asked = (state, quantity, at, to, instrument)
        found = self._made.get(asked)
        if found is None:  # a job's page asks for every reading's check again
            found = self._made[asked] = self.maker.make(*asked)
        return found

    def value_of(self, check: Check, text: object) -> float | str:
        """Return a typed reading as the check's value: '11.9 V', 'on', 'OL'.

        Raises
            QuantityError: no number or no unit
            UnknownNameError: not one of the check's levels
        """
        if isinstance(text, bool):
            text = "on" if text else "off"
        words = str(text).strip().lower()
        if check.levels:
            level = words if words in check.levels else _LEVEL_WORDS.get(words, words)
            if check.quantity == "heard":
                level = _HEARD_WORDS.get(words, level)
            if check.quantity == "turns":
                level = _TURNS_WORDS.get(words, level)
            if level in {"dim", "slow"}:  # the same middle level in other words
                level = next((one for one in check.levels if one in {"dim", "slow"}), level)
            if level not in check.levels:
                raise UnknownNameError(f"reading of {check.quantity}", str(text), check.levels)
            return level
        if check.quantity == "resistance":
            if words in _OPEN_LINE_WORDS:
                return OPEN_LINE_OHM
            ohms = parse_quantity(text, "ohm")
            if ohms < 0:
                raise UsageError(f"A resistance of {ohms:g} ohm is less than nothing.",
                                 next_step="Is the circuit isolated? Zero the leads.")
            return min(ohms, OPEN_LINE_OHM)
        return parse_quantity(text, check.unit)

    # --- predictions ---------------------------------------------------------------------------

    def predict(self, hypotheses: Sequence[Hypothesis], checks: Sequence[Check]) -> Prediction:
        """Return predicted readings of hypotheses at checks, under the battery grid.

        Rows of `faults()` come from solutions that are kept; others (doubles) are solved anew.
        Raises UnknownNameError on a hypothesis whose faults the circuit does not have.
        """
        keys = [_key(one) for one in hypotheses]
        known = [n for n, key in enumerate(keys) if key in self._index]
        free = [n for n, one in enumerate(hypotheses) if one.kind == UNLISTED and not one.parts]
        if len(known) + len(free) < len(keys):
            return spread_out(self._reader_of(tuple(hypotheses)).samples(checks),
                              np.arange(len(hypotheses)))
        order = np.empty(len(keys), dtype=np.int64)
        order[known] = [self._index[keys[n]] for n in known]
        samples = self._samples_of(checks)
        if free:
            order[free] = [len(self._index) + self._unlisted_index[keys[n]] for n in free]
            samples = [joined(pair) for pair in
                       zip(samples, self._unlisted[1].samples(checks), strict=True)]
        return spread_out(samples, order)

    def _samples_of(self, checks: Sequence[Check]) -> list[Sample]:
        return self._solved[1].samples(checks)

    def _reader_of(self, hypotheses: tuple[Hypothesis, ...]) -> Reader:
        """Return the solved states of rows beside `faults()`; the last few are kept."""
        if hypotheses not in self._others:
            while len(self._others) >= _OTHERS_KEPT:
                self._others.pop(next(iter(self._others)))
            parts = [self._parts(one) for one in hypotheses]
            self._others[hypotheses] = Reader(self.circuit, parts)
        return self._others[hypotheses]

    def _sample(self, check: Check) -> Sample:
        return self._samples_of((check,))[0]

    def _parts(self, hypothesis: Hypothesis) -> tuple[FaultRow, ...]:
        """Return the single faults of a hypothesis; its severity goes to every continuum in it."""
        if hypothesis == NO_FAULT:
            return ()
        if hypothesis.parts:
            return tuple(row for part in hypothesis.parts for row in self._parts(part))
        known = _key(hypothesis)
        if known in self._index:
            return (self._faults[self._index[known] - 1],)
        if hypothesis.kind == UNLISTED:
            return (self._unlisted[0][self._unlisted_index[known]],)
        rows = []
        for name in hypothesis.fault_id.split("+"):
            fault = parse_fault(self.circuit, name)
            if hypothesis.severity is not None and name.count(":") == 1:
                fault = with_ohms(fault, hypothesis.severity.mid_ohm)
            rows.append(FaultRow(hypothesis, fault, (fault,)))
        return tuple(rows)

    def consequences(self, hypothesis: Hypothesis) -> tuple[Consequence, ...]:
        """Return what the faults of a hypothesis open for good: fuses, links and breakers."""
        key = _key(hypothesis)
        if key not in self._opened:
            self.foresee([hypothesis])
            faults = tuple(row.fault for row in self._parts(hypothesis))
            self._opened[key] = consequences(self.circuit, faults, self._opens[key])
        return self._opened[key]

    def foresee(self, hypotheses: Sequence[Hypothesis]) -> None:
        """Find out together what hypotheses open for good; `consequences` is quick afterwards."""
        new = {_key(one): tuple(row.fault for row in self._parts(one)) for one in hypotheses
               if _key(one) not in self._opens}
        if new:
            self._opens.update(zip(new, stay_open(self.circuit, list(new.values())), strict=True))

    # --- proof -----------------------------------------------------------------------------------

    def complaint_checks(self) -> tuple[Check, ...]:
        """Return a look at every function of the file's `should`."""
        return complaint_checks(self.circuit, self.maker)

    def margin_checks(self, repair: str) -> Sequence[Check]:
        """Return the checks that prove a repair: loaded drops on its paths, and the functions.

        The drop across the mended element, feed-side and earth-side drops of the loads that a
        fault mended by this repair would change most (each while that load works), and a look at
        the functions concerned. A proof should take minutes: it is the few that would show most.
        Raises UnknownNameError on a repair the circuit does not have.
        """
        repairs = self.repairs()
        if repair not in repairs:
            raise UnknownNameError("repair", repair, repairs)
        rows = [n for n, row in enumerate(self._faults, 1) if row.hypothesis.repair == repair]
        element = repair.partition(" ")[2]
        own, paths = [], []
        for state in self.circuit.states:
            own += list(element_drops(self.circuit, self.maker, state, element))
            paths += list(consumer_drops(self.circuit, self.maker, state))
        looks = self.complaint_checks()
        moved = [one for one in looks if moved_rows(one, self._sample(one), rows)]
        found = [*self._loudest(own, rows)[:MOST_OWN],
                 *few_paths(self.circuit, self._loudest(self._in_series(paths, rows), rows)),
                 *few_looks(self.circuit, moved)]
        return tuple(dict.fromkeys(found)) or looks[:MOST_LOOKS]

    def load_drops(self, names: Sequence[str]) -> tuple[Check, ...]:
        """Return the drops on the feed side and the earth side of loads, in a state they work in.

        A load that a healthy circuit never runs has none. Points are those of `margin_checks`.
        """
        states = dict(reversed([(load, state) for state, load in sorted(self._working())]))
        found = []
        for name in dict.fromkeys(name for name in names if name in states):
            paths = consumer_drops(self.circuit, self.maker, states[name])
            found += under_load(self.circuit, list(paths), frozenset({(states[name], name)}))
        limit = 0.2 * self.circuit.system_v  # more is no drop: that pin is the other side
        return tuple(one for one in found if abs(self._sample(one).mean[0]) <= limit)

    def _in_series(self, paths: Sequence[Check], rows: Sequence[int]) -> list[Check]:
        """Keep the drops under load that even a mild fault moves: it is in series with them.

        Where no such drop is (a signal, a short), those under load, or else all of them.
        """
        loaded = under_load(self.circuit, paths, self._working())
        cells = {row: self._faults[row - 1].hypothesis.severity for row in rows}
        mild = [row for row, cell in cells.items() if cell and cell.mid_ohm <= _MILD_OHM]
        if not mild:
            return loaded or list(paths)
        series = [one for one in loaded if moved_rows(one, self._sample(one), mild)]
        return series or [one for one in paths if moved_rows(one, self._sample(one), mild)] \
            or loaded or list(paths)

    def _working(self) -> frozenset[tuple[str, str]]:
        """Return (state, load) wherever a load of a healthy circuit works."""
        given = [(one, self._sample(one).levels) for one in self.maker.functions()
                 if one.instrument == "eye"]
        return frozenset(
            (one.state, one.at) for one, levels in given
            if levels is not None and levels[0].argmax() == len(one.levels) - 1)

    def _loudest(self, checks: Sequence[Check], rows: Sequence[int]) -> list[Check]:
        """Keep, of checks at the same points, the state where the faults move it most; by that."""
        best: dict[tuple[str, str], tuple[float, Check]] = {}
        for check in dict.fromkeys(checks):
            sample = self._sample(check)
            if not moved_rows(check, sample, rows):
                continue
            # a healthy drop of half the system is no drop: that consumer is off in this state
            if abs(sample.mean[0]) > 0.2 * self.circuit.system_v:
                continue
            moved = float(np.abs(sample.mean[list(rows)] - sample.mean[0]).max())
            key = (check.at, check.to)
            if key not in best or moved > best[key][0] + 1e-9:
                best[key] = (moved, check)
        return [check for _, check in sorted(best.values(), key=lambda pair: -pair[0])]


def _key(hypothesis: Hypothesis) -> tuple[str, object]:
    cell = hypothesis.severity
    if hypothesis.parts:
        return hypothesis.fault_id, tuple(_key(part) for part in hypothesis.parts)
    middle = None if cell is None else round(math.log(cell.mid_ohm), 6)
    return hypothesis.fault_id, (middle, hypothesis.variant)
