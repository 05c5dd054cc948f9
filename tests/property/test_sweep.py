"""A sweep tells what the full solve tells, whatever it skips."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomwright.circuit import faults_of, read_circuit_text
from loomwright.circuit.batch import Variant, conditions_of, operating, solve_batch
from loomwright.circuit.instruments import reach
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.model import Circuit, Fault
from loomwright.circuit.network import network_of
from loomwright.circuit.operate import operate
from loomwright.circuit.rules import logic_of
from loomwright.circuit.sweep import Reading, Sweep, is_fast, sweep
from loomwright.circuit.values import values_of, widened
from loomwright.errors import UnknownNameError
from tests.support.demo import tailgate
from tests.support.random_circuits import curved_circuit, random_circuit

pytestmark = pytest.mark.property

seeds = st.integers(0, 10_000)
_SAME_V = 5e-5  # a kept linearisation is off by 2 microvolts at most; several add up


def differs_v(circuit: Circuit, variants: tuple[Variant, ...], reading: Reading) -> float:
    """Return the most that a sweep differs from the full solve where a point has a path [V]."""
    most = 0.0
    for piece in sweep(circuit, variants, reading):
        full = solve_batch(circuit, piece.state, variants)
        rows = [full.points[name] for name in piece.points]
        off = np.abs(piece.volts - full.volts[np.ix_(rows, piece.variants)])
        off[full.floating[np.ix_(rows, piece.variants)]] = 0.0
        most = max(most, float(off.max()))
        for number, fuse in enumerate(piece.fuses):
            assert (piece.blown[number] == full.blown[fuse][piece.variants]).all()
    return most


def test_every_fault_of_the_demo_as_the_full_solve_has_it() -> None:
    circuit = tailgate()
    variants = tuple(Variant((fault,)) for fault in faults_of(circuit))
    assert differs_v(circuit, (Variant(), *variants), Reading()) < _SAME_V


def test_shorts_of_points_and_added_ohms_as_the_full_solve_has_them() -> None:
    circuit = tailgate()
    shorts = [Fault(f"short-to-earth:{point}", point, "short-to-earth", 0.05)
              for point in circuit.points() if not point.startswith(("BAT", "E1", "E2"))]
    mild = [Fault(f"high-resistance:{wire}:{ohms}", wire, "high-resistance", ohms)
            for wire in circuit.wires for ohms in (0.1, 10.0)]
    variants = tuple(Variant((fault,)) for fault in (*shorts, *mild))
    assert differs_v(circuit, variants, Reading()) < _SAME_V


@given(seeds, st.integers(8, 30))
@settings(max_examples=15, deadline=None)  # the first example may compile
def test_random_circuits_with_faults_as_the_full_solve_has_them(seed: int, count: int) -> None:
    circuit = random_circuit(seed)
    faults = [fault for fault in faults_of(circuit) if fault.element != "BAT"]
    dice = np.random.default_rng(seed)
    picked = dice.choice(len(faults), min(count, len(faults)), replace=False)
    variants = (Variant(), *(Variant((faults[number],)) for number in picked))
    assert differs_v(circuit, variants, Reading()) < _SAME_V


def shorts_of(circuit: Circuit) -> list[Fault]:
    """Return a short to earth of every point but those of earths and the battery."""
    return [Fault(f"short-to-earth:{point}", point, "short-to-earth", 0.05)
            for point in circuit.points()
            if circuit.parts[point.partition(".")[0]].kind not in {"earth", "battery"}]


@given(seeds, st.integers(20, 60))
@settings(max_examples=15, deadline=None)
def test_random_curved_circuits_with_faults_as_the_full_solve_has_them(
    seed: int, count: int,
) -> None:
    circuit = curved_circuit(seed)
    assert any(KINDS[part.kind].load for part in circuit.parts.values())
    faults = [*shorts_of(circuit), *faults_of(circuit)]
    dice = np.random.default_rng(seed)
    picked = dice.choice(len(faults), min(count, len(faults)), replace=False)
    variants = (Variant(), *(Variant((faults[number],)) for number in picked))
    assert differs_v(circuit, variants, Reading()) < _SAME_V


@given(seeds)
@settings(max_examples=8, deadline=None)
def test_two_faults_at_once_as_the_full_solve_has_them(seed: int) -> None:
    circuit = curved_circuit(seed)
    faults = [*shorts_of(circuit), *faults_of(circuit)]
    dice = np.random.default_rng(seed)
    pairs = dice.choice(len(faults), (20, 2))
    variants = tuple(Variant((faults[a], faults[b])) for a, b in pairs if a != b)
    assert differs_v(circuit, variants, Reading()) < _SAME_V


def test_frozen_logic_as_the_full_solve_has_it() -> None:
    circuit = curved_circuit(3)
    variants = tuple(Variant((fault,)) for fault in (*shorts_of(circuit), *faults_of(circuit)))
    quick = list(sweep(circuit, variants, Reading(frozen=True)))
    full = list(sweep(circuit, variants, Reading(frozen=True, compiled=False)))
    floating = {piece.state: solve_batch(circuit, piece.state, variants).floating
                for piece in full}
    for one, other in zip(quick, full, strict=True):
        assert (one.variants == other.variants).all()
        off = np.abs(one.volts - other.volts)[~floating[one.state][:, one.variants]]
        assert float(off.max()) < _SAME_V
        assert not one.in_full.any()


def sagging(battery_ohm: float) -> Circuit:
    """Return a relay that drops out when its own lamp pulls the battery down, a lamp beside."""
    return read_circuit_text(f"""loomwright: 1
system: 12 V
parts:
  BAT: {{kind: battery, volts: 12.6 V, resistance: {battery_ohm} ohm}}
  F1: {{kind: fuse, rating: 20 A}}
  S1: {{kind: switch, closed when: handle}}
  K1: {{kind: relay, drop out: 5 V}}
  H1: {{kind: lamp, power: 55 W}}
  H2: {{kind: lamp, power: 5 W}}
  E1: {{kind: earth}}
wires:
  - [W1, BAT.+, F1.1]
  - [W2, F1.2, K1.86]
  - [W3, K1.85, E1]
  - [W4, F1.2, K1.30]
  - [W5, K1.87, H1.1]
  - [W6, H1.2, E1]
  - [W7, F1.2, S1.1]
  - [W8, S1.2, H2.1]
  - [W9, H2.2, E1]
states:
  dark: {{}}
  lit: {{handle: yes}}
""")


def frozen_full(circuit: Circuit, state: str, variants: tuple[Variant, ...]
                ) -> tuple[Any, Any]:
    """Return volts by the full solve with the healthy circuit's logic, and which have a path."""
    network = widened(network_of(circuit), circuit, variants)
    logic, _, healthy = operating(circuit, state, (Variant(),))
    start = {name: bool(healthy.flags[row, 0]) for name, row in logic.row.items()}
    full = operate(logic_of(network, conditions_of(circuit, state)),
                   values_of(network, circuit, variants), follow=False, start=start)
    count = len(circuit.points())
    return full.volts[:count], reach(network, full.slope_s)[:count]


def test_frozen_logic_of_a_circuit_with_faults_of_its_own_stands_as_without_them() -> None:
    plain = sagging(0.01)
    own = Fault("open:W2", "W2", "open")  # the relay would let go
    circuit = dataclasses.replace(plain, faults=(own,))
    variants = (Variant(), *(Variant((fault,)) for fault in shorts_of(circuit)))
    both = tuple(Variant((own, *variant.faults)) for variant in variants)
    for compiled in (False, True):
        for piece in sweep(circuit, variants, Reading(frozen=True, compiled=compiled)):
            volts, there = frozen_full(plain, piece.state, both)
            off = np.abs(piece.volts - volts[:, piece.variants])[there[:, piece.variants]]
            assert float(off.max()) < _SAME_V
            fed = piece.volts[piece.points.index("K1.87"), piece.variants == 0]
            assert fed > 11  # the contact stays where the healthy relay has it


def test_a_circuit_that_chatters_without_a_fault_stays_compiled() -> None:
    circuit = sagging(2.5)
    assert solve_batch(circuit, "lit", (Variant(),)).chatters.all()
    variants = (Variant(), *(Variant((fault,)) for fault in
                             (*shorts_of(circuit), *faults_of(circuit))))
    assert differs_v(circuit, variants, Reading()) < _SAME_V
    for frozen in (False, True):
        for piece in sweep(circuit, variants, Reading(frozen=frozen)):
            assert piece.in_full.any() != is_fast(circuit)
            if frozen:
                volts, there = frozen_full(circuit, piece.state, variants)
                off = np.abs(piece.volts - volts[:, piece.variants])[there[:, piece.variants]]
                assert float(off.max()) < _SAME_V


def test_a_fault_that_makes_a_relay_chatter_stays_compiled() -> None:
    circuit = sagging(0.01)
    assert not solve_batch(circuit, "lit", (Variant(),)).chatters.any()
    variants = tuple(Variant((Fault(f"high-resistance:W1:{ohms}", "W1", "high-resistance", ohms),))
                     for ohms in (0.5, 1.0, 1.5, 2.0, 2.5, 3.0))
    full = solve_batch(circuit, "lit", variants)
    assert 0 < full.chatters.sum() < len(variants)
    assert differs_v(circuit, variants, Reading()) < _SAME_V
    if is_fast(circuit):
        assert not any(piece.in_full.any() for piece in sweep(circuit, variants))


def test_draws_of_tolerances_switch_where_the_full_solve_has_them_switch() -> None:
    circuit = sagging(0.01)
    # a draw is a base, and a sweep is compiled where each serves eight variants or more
    variants = tuple(Variant((), 0.58, balanced=(number % 16, 16)) for number in range(128))
    full = solve_batch(circuit, "lit", variants)
    pulled_in = full.volts[full.points["K1.87"]] > 1
    assert 0 < pulled_in.sum() < len(variants)  # so weak a battery pulls some of them in
    assert differs_v(circuit, variants, Reading()) < _SAME_V


def test_a_sweep_read_again_or_on_one_thread_tells_the_same() -> None:
    circuit = curved_circuit(5)
    variants = tuple(Variant((fault,)) for fault in faults_of(circuit))
    ready = Sweep(circuit, variants)
    first = list(ready.read(Reading(frozen=True)))
    for reading in (Reading(frozen=True), Reading(frozen=True, threads=1)):
        for one, other in zip(first, ready.read(reading), strict=True):
            assert (one.volts == other.volts).all()
            assert (one.amps == other.amps).all()
    few = Reading(circuit.points()[3:6], tuple(circuit.wires)[:2], frozen=True)
    for one, other in zip(first, ready.read(few), strict=True):
        assert np.abs(one.volts[3:6] - other.volts).max() < 1e-9  # found in another order
        assert np.abs(one.amps[:2] - other.amps).max() < 1e-9


def test_the_full_solve_can_be_asked_for() -> None:
    variants = tuple(Variant((fault,)) for fault in faults_of(tailgate())[:8])
    pieces = list(sweep(tailgate(), variants, Reading(("Y1.1",), compiled=False)))
    assert {piece.state for piece in pieces} == set(tailgate().states)
    assert all(piece.in_full.all() and piece.volts.shape == (1, 8) for piece in pieces)


def test_a_name_that_is_not_there_is_said() -> None:
    with pytest.raises(UnknownNameError, match="Y9"):
        list(sweep(tailgate(), (Variant(),), Reading(("Y9.1",))))


def test_without_numba_nothing_is_called_fast(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    assert not is_fast(tailgate())
