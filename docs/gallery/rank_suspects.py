"""Rank the suspects from three readings, and ask what to measure next."""

# ruff: noqa: T201
from importlib.resources import files

from loomwright.circuit import CircuitPlant, read_circuit_text
from loomwright.diagnosis import Evidence, build_table, diagnose

text = (files("loomwright.demo") / "tailgate_lock.yaml").read_text(encoding="utf-8")
plant = CircuitPlant(read_circuit_text(text, "tailgate_lock.yaml"))
table = build_table(plant)  # every fault predicted once; then each answer is quick

taken = [
    (plant.check_for("locking", "running", "Y1", instrument="eye"), "off"),
    (plant.check_for("locking", "output", "ECU.lock", instrument="controller"), "on"),
    (plant.check_for("locking", "voltage", "X1.3a"), "25.1 V"),
]
evidence = tuple(Evidence(check, plant.value_of(check, seen)) for check, seen in taken)
answer = diagnose(table, evidence)

for suspect in answer.suspects[:6]:
    print(f"{suspect.probability:6.1%}  {suspect.id:24} {suspect.repair}")
best = answer.next_checks[0]
print(f"next: {best.check.quantity} at {best.check.at} in '{best.check.state}', "
      f"{best.minutes:.1f} min, {best.gain_bits:.2f} bits")
print(f"verdict: {answer.verdict.status}. {answer.verdict.why}")
