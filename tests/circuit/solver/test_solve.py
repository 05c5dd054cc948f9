"""What a healthy circuit does in its states, and what the solver refuses."""

from __future__ import annotations

import pytest

from loomwright.circuit import solve, solve_all
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.laws import LAMP_EXPONENT
from loomwright.circuit.model import Circuit, Part, Wire, WireEnd
from loomwright.errors import SolveError, UnknownNameError
from tests.support.demo import small, tailgate


def test_the_demo_does_what_its_file_says_it_should() -> None:
    circuit, results = tailgate(), solve_all(tailgate())
    wanted = [(state, part, word) for state, parts in circuit.should.items()
              for part, word in parts.items()]
    assert len(wanted) == 8
    assert [(s, p, results[s].parts[p].doing) for s, p, _ in wanted] == wanted


def test_rules_follow_the_inputs() -> None:
    results = solve_all(tailgate())
    assert results["locking"].inputs["ECU"] == {"shut": True, "request": True, "moving": False}
    assert results["locking"].outputs["ECU"] == {"lock": True, "warn": False, "lamps": False}
    assert results["on the road"].outputs["ECU"]["lock"] is False


def test_a_dead_feed_is_said_in_words() -> None:
    resting = solve(tailgate(), "at rest")
    assert resting.parts["ECU"].doing == "dead"
    assert any("needs 18.0 V" in note for note in resting.notes)


def test_currents_into_a_splice_add_up_to_nothing() -> None:
    wires = solve(tailgate(), "open").wires
    # 1e-9 A: the 1e-12 S that every point has to the reference
    assert wires["W7"] == pytest.approx(wires["W8"] + wires["W9"] + wires["W10"], abs=1e-9)


def test_a_wire_drops_its_length_times_its_table_resistance() -> None:
    result = solve(tailgate(), "locking")
    fall = result.points["ECU.31"].volts - result.points["X1.3a"].volts
    # ISO 6722: 1.5 mm2 has 12.7 milliohm/m at 20 degC (source S03); 7 m; printed to 3 digits
    assert fall == pytest.approx(7 * 0.0127 * result.wires["W21"], rel=0.005)


def test_unfed_points_float_and_read_nothing() -> None:
    circuit = small("BAT: {kind: battery}\nS1: {kind: switch}\nS2: {kind: switch}\n"
                    "E1: {kind: earth}\nR1: {kind: resistor, resistance: 10 ohm}",
                    "BAT.+, S1.1\nS1.2, S2.1\nS2.2, R1.1\nR1.2, E1")
    result = solve(circuit, "here")
    assert result.points["S1.2"].floating
    assert result.points["S1.2"].volts == 0.0
    assert not result.points["R1.1"].floating


def test_a_meter_of_ten_megohm_loads_a_weak_point() -> None:
    circuit = small("BAT: {kind: battery, volts: 12 V}\nE1: {kind: earth}\n"
                    "R1: {kind: resistor, resistance: 10 Mohm}\n"
                    "R2: {kind: resistor, resistance: 10 Mohm}",
                    "BAT.+, R1.1\nR1.2, R2.1\nR2.2, E1")
    # three times 10 Mohm: the meter makes the lower half 5 Mohm, so a third of 12 V
    assert solve(circuit, "here").points["R1.2"].volts == pytest.approx(4.0, rel=1e-4)


def test_a_lamp_takes_current_as_volts_to_its_exponent() -> None:
    lamp = "H1: {kind: lamp, power: 21 W, volts: 12 V}"
    amps = []
    for volts in (12, 6):
        circuit = small(f"BAT: {{kind: battery, volts: {volts} V, resistance: 1e-8 ohm}}\n{lamp}",
                        "BAT.+, H1.1, 400 mm2, 1 mm\nH1.2, BAT.-, 400 mm2, 1 mm")
        found = solve(circuit, "here").parts["H1"].amps
        assert found is not None
        amps.append(found)
    assert amps[0] == pytest.approx(21 / 12, rel=1e-5)
    # the cold floor bends the power law by less than 1e-4 at half volts
    assert amps[1] / amps[0] == pytest.approx(0.5**LAMP_EXPONENT, rel=1e-4)


def test_a_diode_passes_one_way_only() -> None:
    for first, second, passes in (("1", "2", True), ("2", "1", False)):
        circuit = small("BAT: {kind: battery}\nD1: {kind: diode}\nE1: {kind: earth}\n"
                        "R1: {kind: resistor, resistance: 12 ohm}",
                        f"BAT.+, D1.{first}\nD1.{second}, R1.1\nR1.2, E1")
        result = solve(circuit, "here")
        across = abs(result.points["D1.1"].volts - result.points["D1.2"].volts)
        assert (abs(result.parts["R1"].amps or 0) > 0.9) is passes
        assert (0.6 < across < 1.0) is passes  # a silicon diode near 1 A, common practice


def test_a_motor_runs_at_its_rated_current_and_stalls_when_starved() -> None:
    parts = ("BAT: {kind: battery, volts: 12 V, resistance: 1e-8 ohm}\nE1: {kind: earth}\n"
             "M1: {kind: motor, current: 5 A, resistance: 0.4 ohm}\n"
             "R1: {kind: resistor, resistance: %s ohm}")
    wires = "BAT.+, R1.1, 100 mm2, 1 mm\nR1.2, M1.1, 100 mm2, 1 mm\nM1.2, E1, 100 mm2, 1 mm"
    running = solve(small(parts % "1e-8", wires), "here").parts["M1"]
    starved = solve(small(parts % "10", wires), "here").parts["M1"]
    assert running.doing == "on"
    assert running.amps == pytest.approx(5.0, rel=2e-3)  # straps and earth take 1.5 milliohm
    assert starved.doing == "stalled"
    assert starved.amps == pytest.approx(12 / 10.4, rel=2e-3)


def test_a_relay_changes_over() -> None:
    circuit = small("BAT: {kind: battery}\nK1: {kind: relay, changeover: yes}\nE1: {kind: earth}\n"
                    "S1: {kind: switch, closed when: handle}\nH1: {kind: lamp}\nH2: {kind: lamp}",
                    "BAT.+, S1.1\nS1.2, K1.86\nK1.85, E1\nBAT.+, K1.30\nK1.87, H1.1\n"
                    "K1.87a, H2.1\nH1.2, E1\nH2.2, E1", "rest: {};pulled: {handle: on}")
    results = solve_all(circuit)
    lamps = [[results[s].parts[h].doing for h in ("H1", "H2")] for s in ("rest", "pulled")]
    assert lamps == [["off", "on"], ["on", "off"]]


def test_a_buzzer_chatters_and_says_so() -> None:
    circuit = small("BAT: {kind: battery}\nK1: {kind: relay, changeover: yes}\nE1: {kind: earth}",
                    "BAT.+, K1.30\nK1.87a, K1.86\nK1.85, E1")
    assert any("chatters" in note for note in solve(circuit, "here").notes)


def test_an_overloaded_output_protects_itself() -> None:
    circuit = small("BAT: {kind: battery}\nE1: {kind: earth}\n"
                    "R1: {kind: resistor, resistance: 1 ohm}\n"
                    "ECU: {kind: controller, supply: 1, earth: 2, outputs: "
                    "{out: {pin: 3, drives: high side, limit: 5 A, when: go}}}",
                    "BAT.+, ECU.1\nECU.2, E1\nECU.3, R1.1\nR1.2, E1", "here: {go: yes}")
    result = solve(circuit, "here")
    assert result.outputs["ECU"]["out"] is True  # commanded all the same
    assert abs(result.parts["R1"].amps or 0) < 1e-6
    assert any("ECU.out protects itself" in note for note in result.notes)


def test_an_unknown_state_is_named() -> None:
    with pytest.raises(UnknownNameError, match="Did you mean 'locking'"):
        solve(tailgate(), "loking")


def bare(kinds: dict[str, str], wires: list[tuple[str, str, str, str]]) -> Circuit:
    """Return a circuit the file reader would refuse."""
    parts = {}
    for name, kind in kinds.items():
        model = KINDS[kind].model.model_validate({"kind": kind})
        values, assumed = KINDS[kind].values(model, 12.0)
        if kind == "battery":
            values = {**values, "resistance_ohm": 1e-8}
        parts[name] = Part(name, kind, KINDS[kind].pins(model), values, assumed)
    made = {f"W{n}": Wire(f"W{n}", WireEnd(a, p), WireEnd(b, q), 400, 0.001)
            for n, (a, p, b, q) in enumerate(wires)}
    return Circuit("Bare", 12.0, {}, parts, made, {"here": {}})


def test_no_battery_is_a_physical_reason() -> None:
    with pytest.raises(SolveError, match="no battery") as caught:
        solve(bare({"R1": "resistor"}, []), "here")
    assert caught.value.next_step


def test_no_way_back_is_a_physical_reason() -> None:
    with pytest.raises(SolveError, match="negative post"):
        solve(bare({"BAT": "battery", "R1": "resistor"}, [("BAT", "+", "R1", "1")]), "here")


def test_batteries_shorted_on_each_other_are_refused() -> None:
    circuit = bare({"BAT": "battery", "B2": "battery"},
                   [("BAT", "+", "B2", "-"), ("BAT", "-", "B2", "+")])
    with pytest.raises(SolveError, match="BAT, B2 drive each other"):
        solve(circuit, "here")


def test_a_post_to_post_short_is_refused() -> None:
    with pytest.raises(SolveError, match="post to post"):
        solve(bare({"BAT": "battery"}, [("BAT", "+", "BAT", "-")]), "here")
