"""Read a circuit and print what a meter should show in one state."""

# ruff: noqa: T201
from importlib.resources import files

from loomwright.circuit import read_circuit_text, solve
from loomwright.units import format_quantity

text = (files("loomwright.demo") / "tailgate_lock.yaml").read_text(encoding="utf-8")
circuit = read_circuit_text(text, "tailgate_lock.yaml")
result = solve(circuit, "locking")

print(f"{circuit.title}, state 'locking'")
for point in ("BAT.+", "F12.2", "ECU.31", "X1.3b", "Y1.1", "Y1.2", "E2"):
    reading = result.points[point]
    note = " (floating)" if reading.floating else ""
    print(f"{point:8} {format_quantity(reading.volts, 'V')}{note}")
print(f"Y1 is {result.parts['Y1'].doing}")
