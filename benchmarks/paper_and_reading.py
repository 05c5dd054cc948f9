"""How long a letter with as many photos as it takes, and reading a circuit's text, last.

    PYTHONPATH=src:. python benchmarks/paper_and_reading.py

The letter of the finished demonstration job and the demonstration's circuit, five times each.
Prints medians and the longest in milliseconds; goals: a PDF 500, the text of a circuit 30.
"""

from __future__ import annotations

import io
import statistics
import tempfile
import time
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

from PIL import Image

from loomwright.circuit import read_circuit_text
from loomwright.service.depot import create_depot, fill_depot
from loomwright.service.jobs import Workshop
from loomwright.service.letter import MOST_PHOTOS, letter, letter_pdf, picture_files
from loomwright.service.office import Sender
from loomwright.service.photos import PhotoForm, add_photo


def timed(work: Callable[[], object], repeats: int = 5) -> tuple[float, float]:
    """Return the median and the longest time of some work [ms]."""
    spent = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        spent.append(1000.0 * (time.perf_counter() - start))
    return statistics.median(spent), max(spent)


def jpeg(shade: int) -> bytes:
    """Return a plain photo."""
    out = io.BytesIO()
    Image.new("RGB", (1600, 1200), (shade, 90, 60)).save(out, "JPEG")
    return out.getvalue()


def letter_ms(folder: Path) -> tuple[float, float]:
    """Return the time of a letter with the most photos [ms]."""
    workshop = Workshop(folder)
    jobs = create_depot(workshop)
    fill_depot(workshop)
    finished = next(job for job in jobs
                    if any(event.kind == "finish" for event in workshop.store.events(job)))
    for number in range(MOST_PHOTOS):
        add_photo(workshop, finished, PhotoForm(jpeg(40 * number), "x"),
                  Sender(f"photo-key-{number}", "Isla"))

    def work() -> bytes:
        made = letter(workshop, finished)
        return letter_pdf(made, picture_files(workshop, made.photos))

    return timed(work)


def main() -> None:
    """Measure both and print a table."""
    text = (files("loomwright.demo") / "tailgate_lock.yaml").read_text(encoding="utf-8")
    print("| milliseconds | p50 | longest | goal |\n|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        print("| letter, {} photos | {:.0f} | {:.0f} | 500 |".format(
            MOST_PHOTOS, *letter_ms(Path(folder))))
    print("| circuit read | {:.1f} | {:.1f} | 30 |".format(
        *timed(lambda: read_circuit_text(text))))


if __name__ == "__main__":
    main()
