"""A fuse that a fault blew: told with its cause by every screen and command that shows suspects."""

from __future__ import annotations

from pathlib import Path

from loomwright.service.jobs import Workshop
from loomwright.service.records import JobForm, ReadingForm
from tests.circuit.plant.test_consequences import MOTOR
from tests.cli.running import run

READINGS = """
- {state: pumping, quantity: running, at: M1, value: off}
- {state: pumping, quantity: voltage, at: F1.1, value: 12.5 V}
- {state: pumping, quantity: voltage, at: F1.2, value: 0 V}
- {state: at rest, quantity: resistance, at: M1.1, to: M1.2, value: 0.4 ohm}
- {state: at rest, quantity: resistance, at: S1.1, to: E1, value: OL}
"""
SHORT = "- {state: at rest, quantity: resistance, at: F1.2, to: E1, value: 0.1 ohm}\n"


def files(folder: Path, readings: str) -> tuple[Path, Path]:
    (folder / "pump.yaml").write_text(MOTOR, encoding="utf-8")
    (folder / "readings.yaml").write_text(readings, encoding="utf-8")
    return folder / "pump.yaml", folder / "readings.yaml"


def test_suspects_name_the_short_and_the_fuse_it_blew(tmp_path: Path) -> None:
    circuit, readings = files(tmp_path, READINGS.rsplit("- ", 1)[0] + SHORT)
    said = run("suspects", circuit, "--readings", readings)
    assert said.code == 0
    assert "W2 is shorted to earth; that blew F1 (10 A) in 'at rest', which opens after about" \
        in said.out
    found = run("suspects", circuit, "--readings", readings, "--json", "--explain").json["led_to"]
    (one,) = [one for one in found if one["suspect"] == "short-to-earth:W2"]
    assert set(one["consequences"][0]) == {"element", "act", "size", "state", "at", "least_s",
                                           "most_s", "grade"}
    assert one["text"] in said.out.replace("\n    ", " ")


def test_why_says_what_the_inserted_fault_blew(tmp_path: Path) -> None:
    demo = Path(__file__).parents[2] / "src" / "loomwright" / "demo" / "tailgate_lock.yaml"
    words = ("why", demo, "--state", "locking", "--output", "ECU.lock")
    said = run(*words, "--fault", "short-to-earth:W11")
    assert "W11 is shorted to earth; that blew F12 (10 A) in 'shut'" in said.out
    assert "that blew" not in run(*words, "--fault", "open:W11").out
    assert tmp_path.exists()


def test_a_seized_motor_with_its_fuse_on_the_page_and_in_the_record(tmp_path: Path) -> None:
    workshop = Workshop(tmp_path)
    job = workshop.create_job(JobForm("Skerry Island Council", "Van 2", "SKY 002", "pump",
                                      "does not run", "always", MOTOR), "pump-job-key").id
    taken = [("pumping", "running", "M1", "", "off"), ("pumping", "voltage", "F1.1", "", "12,5"),
             ("pumping", "voltage", "F1.2", "", "0"),
             ("at rest", "resistance", "M1.1", "M1.2", "0,4"),
             ("at rest", "resistance", "F1.2", "E1", "OL")]
    for number, (state, quantity, at, to, value) in enumerate(taken):
        form = ReadingForm(state, quantity, at, to, value)
        workshop.add_reading(job, form, f"reading-key-{number}")
    told = {one.id: one.led_to for one in workshop.view(job).suspects}
    assert told["seized:M1"].startswith("M1 is seized; that blew F1 (10 A) in 'pumping'")
    assert told["blown:F1"] == ""  # a fuse that blew by itself has no cause
    workshop.record_repair(job, ("replace M1", "did not turn"), "repair-key")
    assert told["seized:M1"] in workshop.record(job).cause
