"""Where the technician stands after some readings, and what a check costs from there."""

from __future__ import annotations

import functools

from loomwright.circuit import CircuitPlant
from loomwright.diagnosis import Evidence, build_table, diagnose
from loomwright.diagnosis.choose import Position, minutes_for, position_after
from tests.support.demo import tailgate
from tests.support.plants import series_plant


@functools.cache
def tailgate_table():
    return build_table(CircuitPlant(tailgate()))


def test_a_complaint_opens_no_place():
    table = tailgate_table()
    seen = table.plant.check_for("locking", "running", "Y1", instrument="eye")
    assert position_after([Evidence(seen, "off")]) == Position(frozenset(), "")
    there = [option.minutes for option in diagnose(table, [Evidence(seen, "off")]).next_checks
             if option.check.place == "tailgate"]
    assert all(minutes > table.places["tailgate"] for minutes in there)


def test_a_look_after_a_first_reading_is_a_place_reached():
    table = tailgate_table()
    read = table.plant.check_for("locking", "voltage", "F12.2")
    seen = table.plant.check_for("locking", "running", "Y1", instrument="eye")
    found = position_after([Evidence(seen, "off"), Evidence(read, 25.0), Evidence(seen, "off")])
    assert found == Position(frozenset({read.place, seen.place}), "locking")
    again = table.plant.check_for("locking", "voltage", "Y1.1")
    assert minutes_for(table, again, found) == again.minutes


def test_places_of_readings_are_reached_once():
    table = build_table(series_plant(8))
    first = table.checks[0]
    position = position_after([Evidence(first, 12.0)])
    assert first.place in position.places


def test_a_repeat_on_bare_wire_costs_the_reading_alone():
    table = tailgate_table()
    bare = next(one for one in table.checks if one.at == "W20" and one.quantity == "resistance")
    other = next(one for one in table.checks
                 if one.at == "W20" and one.quantity == "resistance" and one.to != bare.to)
    first = minutes_for(table, bare, Position())
    assert first == table.places[bare.place] + table.setups["isolated"] + bare.minutes
    unplugged = Position().after(bare)
    # 2 min are a reading of ohms; both ends unplugged are 2 min, back-probing a plug 0.5 each
    assert bare.opening_min == 3.0
    assert minutes_for(table, bare, unplugged) == minutes_for(table, other, unplugged) == 2.0


def test_what_was_opened_is_closed_again_before_something_else():
    table = tailgate_table()
    bare = next(one for one in table.checks if one.at == "W20" and one.quantity == "resistance")
    read = table.plant.check_for("locking", "voltage", "F12.2")
    back = Position().after(bare).after(read)
    assert minutes_for(table, bare, back) == table.setups["isolated"] + bare.minutes


def test_a_splice_stays_open_for_the_next_reading_there():
    table = tailgate_table()
    splice = table.plant.check_for("locking", "voltage", "SP2")
    again = table.plant.check_for("shut", "voltage", "SP2")
    there = Position().after(splice)
    assert minutes_for(table, splice, there) == 1.0
    assert minutes_for(table, again, there) == table.setups["shut"] + 1.0


def test_a_look_costs_the_way_to_the_nearest_place_it_is_seen_from():
    table = tailgate_table()
    seen = table.plant.check_for("open", "lit", "H7", instrument="eye")  # tailgate 8, cab 1 min
    assert (seen.place, seen.also_from) == ("cab panel", ("tailgate",))
    assert minutes_for(table, seen, Position()) == 1.0 + table.setups["open"] + seen.minutes
    for there in ("cab panel", "tailgate"):
        standing = Position(frozenset({there}), "open")
        assert minutes_for(table, seen, standing) == seen.minutes
        assert standing.after(seen).places == {there}  # nobody walked


def test_a_wiggle_is_done_at_its_part_and_seen_without_help_from_there():
    table = tailgate_table()
    there = table.plant.check_for("open", "lit", "H7", "wiggle E2", "eye")  # E2: at the tailgate
    far = table.plant.check_for("open", "lit", "H7", "wiggle X1", "eye")  # the hinge
    assert (there.place, there.also_from, far.place) == ("tailgate", (), "hinge")
    assert far.minutes == there.minutes + 1.0  # somebody else looks
