"""Time of the drawing: layout of new circuits and the SVG of a known one.

Run from the top folder: `python -m benchmarks.drawing`.
"""

from __future__ import annotations

import time

from loomwright.circuit import drawing
from tests.circuit.drawing.generator import random_circuit


def main() -> None:
    """Print medians over seeds [ms of processor time]."""
    drawing.lay_out(random_circuit(0, 10))  # imports and first calls are not the question
    for size in (25, 60, 120):
        layouts, texts, widths = [], [], []
        for seed in range(9):
            circuit = random_circuit(seed, size)
            start = time.process_time()
            layout = drawing.lay_out(circuit)
            middle = time.process_time()
            drawing.draw_circuit(circuit)
            layouts.append((middle - start) * 1e3)
            texts.append((time.process_time() - middle) * 1e3)
            widths.append(len(layout.tracks))
        print(f"{size:4d} parts: layout {sorted(layouts)[4]:6.1f} ms, most {max(layouts):6.1f} ms; "
              f"SVG {sorted(texts)[4]:5.1f} ms; {sorted(widths)[4]} tracks")


if __name__ == "__main__":
    main()
