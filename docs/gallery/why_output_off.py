"""Ask why the controller does not drive the lock valve while the tailgate switch reads open."""

# ruff: noqa: T201
from importlib.resources import files

from loomwright.circuit import parse_fault, read_circuit_text, why_off

text = (files("loomwright.demo") / "tailgate_lock.yaml").read_text(encoding="utf-8")
healthy = read_circuit_text(text, "tailgate_lock.yaml")
faulty = healthy.with_faults([parse_fault(healthy, "stuck-open:S4")])

print("\n".join(why_off(faulty, "locking", "ECU.lock").text()))
