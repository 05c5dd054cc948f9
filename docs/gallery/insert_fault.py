"""Insert a fault and see which points change: a circuit is never altered, a new one carries it."""

# ruff: noqa: T201
from importlib.resources import files

from loomwright.circuit import parse_fault, read_circuit_text, solve
from loomwright.units import format_quantity

text = (files("loomwright.demo") / "tailgate_lock.yaml").read_text(encoding="utf-8")
healthy = read_circuit_text(text, "tailgate_lock.yaml")
faulty = healthy.with_faults([parse_fault(healthy, "high-resistance:W22:12")])

before = solve(healthy, "locking")
after = solve(faulty, "locking")
print(f"{'point':8} {'healthy':>10} {'12 ohm in W22':>14}")
for point in healthy.points():
    was, now = before.points[point].volts, after.points[point].volts
    if abs(was - now) > 0.5:
        print(f"{point:8} {format_quantity(was, 'V'):>10} {format_quantity(now, 'V'):>14}")
