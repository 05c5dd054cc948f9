"""Find what empties a parked van's battery: an ammeter in series, fuses pulled one by one."""

# ruff: noqa: T201
from loomwright.circuit import CircuitPlant, parse_fault, read_circuit_text, solve
from loomwright.circuit.templates import template_text
from loomwright.diagnosis import Evidence, build_table, diagnose

van = read_circuit_text(template_text("standing-drain"))
plant = CircuitPlant(van)
table = build_table(plant)
hidden = van.with_faults([parse_fault(van, "welded:K1")])  # nobody knows that yet

evidence: tuple[Evidence, ...] = ()
for state in ("parked", "parked, F1 out", "parked, F2 out", "parked, F3 out"):
    amps = solve(hidden, state).parts["BAT"].amps or 0.0  # what the ammeter shows
    check = plant.check_for(state, "current", "BAT", instrument="meter")
    evidence = (*evidence, Evidence(check, round(amps, 3)))
    answer = diagnose(table, evidence)
    first = answer.suspects[0]
    print(f"{state:16} {1000 * amps:6.0f} mA   {first.id} {first.probability:.0%}")
print(f"verdict: {answer.verdict.status}. {answer.verdict.why}")
print("next:", ", ".join(one.check.text for one in answer.next_checks[:1]) or "nothing")
