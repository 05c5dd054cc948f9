"""Draw the circuit with the values of one state. Usage: python draw_svg.py [out.svg]"""

# ruff: noqa: T201
import sys
from importlib.resources import files
from pathlib import Path

from loomwright.circuit import read_circuit_text, solve
from loomwright.circuit.drawing import DrawingOptions, draw_circuit

text = (files("loomwright.demo") / "tailgate_lock.yaml").read_text(encoding="utf-8")
circuit = read_circuit_text(text, "tailgate_lock.yaml")
options = DrawingOptions(title=circuit.title, standalone=True)
picture = draw_circuit(circuit, solve(circuit, "locking"), options)

if len(sys.argv) > 1:
    Path(sys.argv[1]).write_text(picture, encoding="utf-8")
print(f"an SVG of {len(picture.encode()) // 1024} kB with {picture.count('<text')} labels")
