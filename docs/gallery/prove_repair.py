"""Prove a repair: the failed reading again, and loaded readings along the mended path."""

# ruff: noqa: T201
from importlib.resources import files

from loomwright.circuit import CircuitPlant, read_circuit_text, solve
from loomwright.diagnosis import Evidence, build_table, judge_proof, proof_checks

text = (files("loomwright.demo") / "tailgate_lock.yaml").read_text(encoding="utf-8")
circuit = read_circuit_text(text, "tailgate_lock.yaml")
plant = CircuitPlant(circuit)
table = build_table(plant)

complaint = Evidence(plant.check_for("locking", "running", "Y1", instrument="eye"), "off")
wanted = proof_checks(table, "mend W22", (complaint,))


def read(check):
    """Return what the mended truck shows: here, what the circuit without faults gives."""
    result = solve(circuit, check.state)
    if check.levels:
        return result.parts[check.at].doing
    low = result.points[check.to].volts if check.to else 0.0
    return result.points[check.at].volts - low


after = tuple(Evidence(check, read(check)) for check in wanted)
for taken in after:
    value = taken.value if isinstance(taken.value, str) else f"{taken.value:.3f} {taken.check.unit}"
    to = f" to {taken.check.to}" if taken.check.to else ""
    print(f"{taken.check.state}: {taken.check.quantity} at {taken.check.at}{to}: {value}")
proof = judge_proof(table, "mend W22", after, evidence_before=(complaint,))
print(f"holds: {proof.holds}. {proof.why}")
