"""What each command answers on the demo depot's refuse truck, and in the shape of the contract."""

import itertools
import json
import subprocess
import sys

import jsonschema
import pytest
import yaml

from tests.cli import contract
from tests.cli.lamp import LAMP
from tests.cli.running import DEMO_CIRCUIT, REPOSITORY, run, run_process
from tests.cli.test_bad_input import changed
from tests.service.depot_folder import TRUCK_4, TRUCK_7, depot_in

OPEN_W22 = [
    {"state": "locking", "quantity": "running", "at": "Y1", "value": "off", "instrument": "eye"},
    {"state": "locking", "quantity": "output", "at": "ECU.lock", "value": "on",
     "instrument": "controller"},
    {"state": "locking", "quantity": "voltage", "at": "X1.3b", "value": "25.0 V",
     "instrument": "meter"},
    {"state": "locking", "quantity": "voltage", "at": "Y1.1", "value": "0.02 V",
     "instrument": "meter"},
]


@pytest.fixture
def readings(tmp_path):
    """Return a file of readings that W22 open explains."""
    file = tmp_path / "readings.yaml"
    file.write_text(yaml.safe_dump(OPEN_W22), encoding="utf-8")
    return file


def answer(schema, *words, code=0):
    """Run a command with --json, and return its JSON once it has the shape of the contract."""
    said = run(*words, "--json")
    assert said.code == code, said
    assert said.err == ""
    jsonschema.validate(said.json, schema)
    return said.json


# --- check -----------------------------------------------------------------------------------


def test_check_counts_and_lists_what_is_assumed():
    found = answer(contract.CHECK, "check", DEMO_CIRCUIT)
    raw = yaml.safe_load(DEMO_CIRCUIT.read_text(encoding="utf-8"))
    assert (found["parts"], found["wires"]) == (len(raw["parts"]), len(raw["wires"]))
    assert found["states"] == list(raw["states"])
    assert found["notes"] == []
    assumed = {(one["element"], one["what"]) for one in found["assumed"]}
    assert ("BAT", "resistance") in assumed
    assert not any(element == "W1" for element, _ in assumed)  # W1 gives everything


def test_check_remarks_a_part_without_a_wire_where_it_stands(tmp_path):
    file = tmp_path / "lamp.yaml"
    file.write_text(changed("wires:", "  F9: {kind: fuse, rating: 10 A}\n"
                            "  E9: {kind: earth}\nwires:"), encoding="utf-8")
    line = 1 + file.read_text(encoding="utf-8").splitlines().index(
        "  F9: {kind: fuse, rating: 10 A}")
    wanted = (f"{file}:{line}:7: No wire goes to fuse F9: nothing can be said of it. "
              "Add its wires, or leave it out.")
    assert answer(contract.CHECK, "check", file)["notes"] == [wanted]  # an earth needs no wire
    assert f"note: {wanted}" in run("check", file).out


def test_check_says_an_assumed_length_in_words(tmp_path):
    file = tmp_path / "lamp.yaml"
    file.write_text(changed("[W3, S1.2, H1.1, 2.5 mm2, 1 m, BK]", "[W3, S1.2, H1.1, 2.5 mm2]"),
                    encoding="utf-8")
    assert "assumed: W3 length 2 m\n" in run("check", file).out


def test_check_names_a_should_line_that_does_not_hold(tmp_path):
    file = tmp_path / "lamp.yaml"
    file.write_text(changed("H1: on}", "H1: off}"), encoding="utf-8")
    found = answer(contract.CHECK, "check", file)
    assert found["notes"] == ["lit: H1 should be off but is on."]


# --- expect ----------------------------------------------------------------------------------


def test_expect_gives_every_state_and_point():
    found = answer(contract.EXPECT, "expect", DEMO_CIRCUIT)["states"]
    assert list(found) == ["at rest", "shut", "locking", "open", "on the road"]
    locking = found["locking"]
    assert locking["parts"]["Y1"]["doing"] == "on"
    assert locking["outputs"]["ECU"] == {"lock": True, "warn": False, "lamps": False}
    assert locking["points"]["BAT.-"] == {"volts": 0, "floating": False}
    # About 25 V over 24 ohm; 5 % covers the drop in wires and battery.
    assert locking["parts"]["Y1"]["amps"] == pytest.approx(25.2 / 24, rel=0.05)
    # Kirchhoff: the solenoid's two wires carry one current; the solver's tolerance is far below.
    assert locking["wires"]["W22"]["amps"] == pytest.approx(locking["wires"]["W23"]["amps"],
                                                           abs=1e-5)


def test_expect_with_a_fault_gives_exit_0_and_the_fault_shows():
    found = answer(contract.EXPECT, "expect", DEMO_CIRCUIT, "--state", "locking",
                   "--fault", "open:W22")["states"]
    assert list(found) == ["locking"]
    assert found["locking"]["parts"]["Y1"]["doing"] == "off"
    assert "Y1 should be on but is off." in found["locking"]["notes"]
    assert found["locking"]["points"]["X1.3b"]["volts"] > 24
    assert abs(found["locking"]["points"]["Y1.1"]["volts"]) < 0.1


def test_expect_takes_ohms_in_a_fault_and_several_faults():
    low = answer(contract.EXPECT, "expect", DEMO_CIRCUIT, "--state", "locking",
                 "--fault", "high-resistance:W22:24", "--fault", "open:W25")["states"]["locking"]
    # 24 ohm in the wire and 24 ohm in the solenoid share the supply: half of it each, within 3 %
    # for the remaining wires.
    assert low["points"]["Y1.1"]["volts"] == pytest.approx(low["points"]["ECU.31"]["volts"] / 2,
                                                           rel=0.03)


def test_expect_of_a_circuit_that_does_not_do_what_it_should_is_a_finding(tmp_path):
    file = tmp_path / "lamp.yaml"
    file.write_text(changed("H1: on}", "H1: off}"), encoding="utf-8")
    found = answer(contract.EXPECT, "expect", file, code=1)
    assert found["states"]["lit"]["notes"] == ["H1 should be off but is on."]
    assert run("expect", file, "--fault", "open:W1").code == 0


def test_expect_for_people_names_points_with_volts():
    said = run("expect", DEMO_CIRCUIT, "--state", "locking")
    assert said.code == 0
    line = next(one for one in said.out.splitlines() if one.strip().startswith("F12.2"))
    assert line.rstrip().endswith(" V")
    assert "State: locking" in said.out


def test_expect_says_no_on_or_off_of_what_has_none():
    found = answer(contract.EXPECT, "expect", DEMO_CIRCUIT, "--state", "at rest")
    doing = {name: one["doing"] for name, one in found["states"]["at rest"]["parts"].items()}
    idle = ("BAT", "X1", "SP1", "SP2", "SP3", "E1", "E2")
    assert {name for name, word in doing.items() if not word} == set(idle)
    rows = [one.split() for one in
            run("expect", DEMO_CIRCUIT, "--state", "at rest").out.splitlines()]
    assert [row[1:] for row in rows if row[:1] == ["X1"]] == [["-"]]
    assert ["H1", "off", "0", "A"] in rows


def test_expect_shows_no_finer_volts_than_a_meter():
    shown = run("expect", DEMO_CIRCUIT).out.split()
    small = [number for number, unit in itertools.pairwise(shown) if unit == "mV"]
    assert small  # a wire of some milliohms under load
    assert all(number.lstrip("-").isdigit() for number in small)


# --- faults ----------------------------------------------------------------------------------


def test_every_fault_listed_is_accepted_by_expect():
    found = answer(contract.FAULTS, "faults", DEMO_CIRCUIT)
    ids = [one["id"] for one in found]
    assert len(ids) == len(set(ids))
    assert {"open:W7", "blown:F12", "welded:K3", "driver-dead:ECU.lock", "open:X1.3",
            "input-dead:ECU.shut"} <= set(ids)
    by_kind = {one["kind"]: one["id"] for one in found}
    for fault in by_kind.values():
        assert run("expect", DEMO_CIRCUIT, "--state", "locking", "--fault", fault).code == 0


def test_every_wire_can_be_open():
    found = answer(contract.FAULTS, "faults", DEMO_CIRCUIT)
    opened = {one["element"]: one["repair"] for one in found if one["kind"] == "open"}
    assert {f"W{number}" for number in range(1, 33)} <= set(opened)
    assert opened["W7"] == "mend W7"


# --- suspects --------------------------------------------------------------------------------


def test_suspects_find_the_open_wire(readings):
    found = answer(contract.SUSPECTS, "suspects", DEMO_CIRCUIT, "--readings", readings)
    first = found["suspects"][0]
    assert first["repair"] == "mend W22"
    total = (sum(one["probability"] for one in found["suspects"])
             + found["no_fault"] + found["unmodelled"])
    # At most 60 suspects are listed; what the rest holds is little, but not nothing.
    assert 0.95 < total <= 1.0 + 1e-9
    shares = [one["probability"] for one in found["suspects"]]
    assert shares == sorted(shares, reverse=True)


def test_suspects_predict_for_known_suspects_only(readings):
    found = answer(contract.SUSPECTS, "suspects", DEMO_CIRCUIT, "--readings", readings,
                   "--next", 3)
    ids = {one["id"] for one in found["suspects"]} | {"no-fault"}
    assert 0 < len(found["next_checks"]) <= 3
    for check in found["next_checks"]:
        assert set(check["predicts"]) <= ids
        assert check["minutes"] > 0


def test_a_proposed_check_can_be_answered(readings, tmp_path):
    """What is proposed can be given back as a reading, in the same words."""
    found = answer(contract.SUSPECTS, "suspects", DEMO_CIRCUIT, "--readings", readings)
    units = {"voltage": " V", "current": " A", "resistance": " ohm"}
    for check in found["next_checks"]:
        value = next(iter(check["predicts"].values()))
        taken = {key: check[key] for key in ("state", "quantity", "at", "to", "instrument")}
        taken["value"] = f"{value}{units.get(check['quantity'], '')}"
        file = tmp_path / "more.yaml"
        file.write_text(yaml.safe_dump([*OPEN_W22, taken]), encoding="utf-8")
        answer(contract.SUSPECTS, "suspects", DEMO_CIRCUIT, "--readings", file)


def test_suspects_explain_each_reading_when_asked(readings):
    said = run("suspects", DEMO_CIRCUIT, "--readings", readings, "--json", "--explain")
    told = said.json["readings"]
    assert [one["at"] for one in told] == ["Y1", "ECU.lock", "X1.3b", "Y1.1"]
    assert told[0]["expected_if_healthy"] == "on"
    assert told[3]["expected_if_healthy"] == pytest.approx(25, abs=1.5)  # battery 25.2 V, drops


def test_suspects_for_people_have_readings_table_checks_and_verdict(readings):
    said = run("suspects", DEMO_CIRCUIT, "--readings", readings)
    assert said.code == 0
    for heading in ("Readings", "Suspects", "Next checks", "Verdict"):
        assert f"\n{heading}\n" in said.out
    assert "mend W22" in said.out
    assert " %" in said.out


def test_readings_may_be_written_without_quotes(tmp_path):
    """YAML reads a bare `off` as a truth value; a technician does not know and need not."""
    file = tmp_path / "readings.yaml"
    file.write_text("- {state: locking, quantity: running, at: Y1, value: off, instrument: eye}\n",
                    encoding="utf-8")
    found = answer(contract.SUSPECTS, "suspects", DEMO_CIRCUIT, "--readings", file)
    assert found["no_fault"] < 0.5


def test_suspects_answer_the_same_twice(readings):
    words = ("suspects", DEMO_CIRCUIT, "--readings", readings, "--json")
    assert run(*words).out == run(*words).out


# --- why -------------------------------------------------------------------------------------


def test_why_names_the_input_that_blocks():
    said = run("why", DEMO_CIRCUIT, "--state", "locking", "--output", "ECU.lock",
               "--fault", "stuck-open:S4")
    assert said.code == 0
    assert "shut" in said.out
    assert "S4" in said.out


def test_why_as_json_is_an_object():
    found = answer(contract.WHY, "why", DEMO_CIRCUIT, "--state", "shut", "--output", "ECU.lock")
    assert "request" in json.dumps(found)


# --- draw, schema ----------------------------------------------------------------------------


def test_draw_writes_an_svg(tmp_path):
    target = tmp_path / "lock.svg"
    said = run("draw", DEMO_CIRCUIT, "-o", target, "--state", "locking")
    assert said.code == 0
    assert said.out == f"Wrote {target}.\n"
    assert "<svg" in target.read_text(encoding="utf-8")[:200]


@pytest.mark.parametrize("command", [
    ("draw",), ("exchange", "spice", "--state", "locking"), ("exchange", "wires"),
])
def test_no_output_overwrites_the_circuit_it_came_from(tmp_path, command):
    circuit = tmp_path / "lock.yaml"
    text = DEMO_CIRCUIT.read_text(encoding="utf-8")
    circuit.write_text(text, encoding="utf-8")
    said = run(*command, circuit, "-o", tmp_path / "." / "lock.yaml")
    assert said.code == 2
    assert "would overwrite the file" in said.err
    assert circuit.read_text(encoding="utf-8") == text


def test_draw_prints_the_svg_without_a_target():
    assert "<svg" in run("draw", DEMO_CIRCUIT).out[:200]


def test_schema_accepts_the_demo_circuit():
    schema = answer({"type": "object"}, "schema")
    raw = yaml.safe_load(DEMO_CIRCUIT.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(raw)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(schema).validate({**raw, "prts": {}})


# --- demo ------------------------------------------------------------------------------------


def test_demo_finds_and_proves_the_hidden_fault():
    found = answer(contract.DEMO, "demo")
    assert found["proved"] is True
    assert found["complaint"].startswith("Tailgate lock stays open. Lock valve (Y1) should")
    stages = [one["stage"] for one in found["evidence"]]
    assert stages[0] == "complaint"
    assert "finding" in stages
    assert stages[-1] == "proof"
    element = found["hidden_fault"].split(":")[1]
    assert element in found["cause"]


def test_suspects_of_a_repaired_vehicle_are_told_as_those_of_before(tmp_path):
    assert "Suspects before the repair" in run("demo").out
    data = depot_in(tmp_path / "data")
    repaired = run("job", "verdict", TRUCK_4, "--data", data).out.splitlines()
    assert "Suspects before the repair" in repaired
    assert "Suspects" in run("job", "verdict", TRUCK_7, "--data", data).out.splitlines()


def test_demo_is_the_same_twice_and_another_seed_reads_otherwise():
    first = run("demo", "--json").out
    assert run("demo", "--json").out == first
    assert run("demo", "--json", "--seed", 1234).out != first


@pytest.mark.parametrize("fault", ["blown:F12", "input-dead:ECU.shut", "high-resistance:W22:30"])
def test_demo_with_another_fault_finds_that(fault):
    found = answer(contract.DEMO, "demo", "--fault", fault)
    assert found["hidden_fault"] == fault
    assert found["proved"] is True


def test_demo_for_people_ends_with_the_record():
    said = run("demo")
    assert said.code == 0
    record = said.out.split("\nRecord\n")[1]
    assert all(word in record for word in ("Complaint", "Cause", "Correction", "proved"))


@pytest.mark.parametrize("job", ["truck-4", "truck-9"])
def test_demo_follows_the_other_jobs_of_the_depot(job):
    found = answer(contract.DEMO, "demo", "--job", job)
    assert found["proved"] is True
    assert found["hidden_fault"].split(":")[1] in found["cause"]


def test_demo_of_an_unknown_job_suggests_the_nearest():
    assert "Did you mean 'truck-7'?" in run("demo", "--job", "truk-7").err


def test_demo_with_an_unknown_fault_is_told():
    said = run("demo", "--fault", "open:W99")
    assert said.code == 2
    assert "W99" in said.err


def test_demo_with_a_fault_that_nobody_notices_is_told():
    said = run("demo", "--fault", "driver-dead:ECU.lamps", "--json")
    assert said.code == 0
    said = run("demo", "--fault", "high-resistance:W1:0.0001", "--json")
    assert said.code == 2
    assert "no complaint" in said.json["error"]["message"]


# --- whole processes -------------------------------------------------------------------------


def test_a_process_prints_only_json_on_stdout(readings):
    said = run_process("suspects", DEMO_CIRCUIT, "--readings", readings, "--json")
    assert said.code == 0
    assert said.err == ""
    jsonschema.validate(said.json, contract.SUSPECTS)


def test_help_loads_neither_numpy_nor_rich():
    """The start is quick because what is heavy is only loaded by the command that needs it."""
    code = ("import sys; from loomwright.cli import main; main(['--help']); "
            "heavy = {'numpy', 'rich', 'pydantic', 'yaml', 'fastapi', 'sqlalchemy', 'pint'}; "
            "print(sorted(heavy & set(sys.modules)), file=sys.stderr)")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True,
                          check=True, env={"PYTHONPATH": str(REPOSITORY / "src")})
    assert done.stderr.strip() == "[]"


def test_the_sound_circuit_of_these_tests_is_sound(tmp_path):
    file = tmp_path / "lamp.yaml"
    file.write_text(LAMP, encoding="utf-8")
    assert run("check", file).code == 0


# --- expect --sequence, --detail -------------------------------------------------------------


@pytest.fixture
def indicators(tmp_path):
    """Return the file of a circuit with sequences."""
    from loomwright.circuit.templates import template_text

    file = tmp_path / "indicators.yaml"
    file.write_text(template_text("indicators"), encoding="utf-8")
    return file


def test_a_sequence_gives_moments_and_times_of_loads(indicators):
    found = run("expect", indicators, "--sequence", "left turn", "--json").json
    assert set(found) == {"sequence", "length_s", "steps", "moments", "loads", "notes"}
    assert found["loads"]["H1"] == {"on_s": 3.5, "times": 10, "first_s": 1, "last_s": 7.65}
    assert [step["starts_s"] for step in found["steps"]] == [0, 1, 8]
    assert found["moments"][1]["flashes"] == ["FLU.left side"]
    told = run("expect", indicators, "--sequence", "left turn")
    assert "Sequence: left turn, 9 s" in told.out


def test_an_unknown_sequence_is_bad_input(indicators):
    said = run("expect", indicators, "--sequence", "left trun", "--json")
    assert (said.code, said.json["error"]["code"]) == (2, "unknown-name")
    assert "left turn" in said.json["error"]["next_step"]


def test_what_opens_is_given_with_its_time_and_grade(indicators):
    found = run("expect", indicators, "--state", "hazard, lit", "--fault",
                "short-to-earth:W2:0,05", "--detail", "--json").json
    opened = found["details"]["hazard, lit"]["openings"]
    assert [(one["part"], one["grade"]) for one in opened] == [("F1", "memory")]
    assert opened[0]["time_s"]["least"] < opened[0]["time_s"]["most"]
    notes = found["states"]["hazard, lit"]["notes"]
    assert any("from memory, not confirmed" in note for note in notes)
    plain = run("expect", indicators, "--json").json
    assert set(plain) == {"states"}
