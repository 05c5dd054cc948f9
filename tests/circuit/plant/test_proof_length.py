"""A proof of repair is short, under load, and in series with what was mended."""

from __future__ import annotations

from loomwright.diagnosis import Evidence, build_table, proof_checks
from tests.circuit.plant.test_plant import demo, small


def test_no_repair_asks_for_more_than_eight_readings() -> None:
    # 8: two contacts, two loads with feed or earth side, four functions (a workshop's quarter hour)
    counts = {repair: len(demo().margin_checks(repair)) for repair in demo().repairs()}
    assert {repair: count for repair, count in counts.items() if not 1 <= count <= 8} == {}


def test_drops_are_taken_while_the_load_works() -> None:
    found = demo().margin_checks("mend W1")
    drops = {(one.state, one.to) for one in found if one.at == "BAT.+" and one.to != "F1.1"}
    assert drops == {("open", "H1.1"), ("open", "H7.1")}  # both lamps are lit in 'open'


def test_an_earth_is_proved_on_its_earth_side_only() -> None:
    drops = {(one.at, one.to) for one in demo().margin_checks("clean E1") if not one.levels}
    assert drops == {("E1", "BAT.-"), ("H1.2", "BAT.-")}


def test_one_load_is_proved_by_its_path_and_its_function() -> None:
    found = [(one.quantity, one.at, one.to) for one in small().margin_checks("mend W3")]
    assert found == [("voltage", "S1.2", "R1.1"), ("voltage", "BAT.+", "R1.1"),
                     ("running", "R1", "")]


def test_both_sides_of_a_load_are_given_while_it_works() -> None:
    drops = [(one.state, one.at, one.to) for one in demo().load_drops(["H1"])]
    assert drops == [("open", "BAT.+", "H1.1"), ("open", "H1.2", "BAT.-")]


def test_the_proof_reads_both_sides_of_the_load_of_the_complaint() -> None:
    """A bad earth beside the wire that was mended: only the earth side's drop shows it."""
    plant = demo()
    dark = Evidence(plant.check_for("open", "lit", "H1"), "off")
    wanted = {(one.at, one.to) for one in proof_checks(build_table(plant), "mend W29", [dark])}
    assert {("BAT.+", "H1.1"), ("H1.2", "BAT.-")} <= wanted


def test_the_proof_makes_every_set_up_once_and_looks_in_all_states() -> None:
    """H1 dark in 'open' could not show that it would not go off elsewhere."""
    plant = demo()
    dark = Evidence(plant.check_for("open", "lit", "H1"), "off")
    wanted = proof_checks(build_table(plant), "mend W29", [dark])
    setups = [one.setup for one in wanted]
    assert setups == sorted(setups, key=setups.index)
    assert {one.state for one in wanted if one.quantity == "lit" and one.at == "H1"} == {
        state for state, wants in plant.circuit.should.items() if "H1" in wants}
