"""Print milliseconds per single solve and per 1000 variants of the demo circuit."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from loomwright.circuit import faults_of, solve
from loomwright.circuit.batch import Variant, blown_after, solve_batch
from loomwright.circuit.reader import read_circuit

DEMO = Path(__file__).parents[1] / "src" / "loomwright" / "demo" / "tailgate_lock.yaml"


def best_ms(work: Callable[[], object], times: int = 5) -> float:
    """Return the shortest of a few runs in processor time [ms], whatever else is running."""
    found = []
    for _ in range(times):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return min(found) * 1e3


def main() -> None:
    """Time single solves, batches without shorts and batches of every fault."""
    circuit = read_circuit(DEMO)
    faults = faults_of(circuit)
    plain = [Variant(spread_seed=seed) for seed in range(1000)]
    quiet = [f for f in faults if not f.kind.startswith("short")]
    mixed = [Variant((quiet[n % len(quiet)],), spread_seed=n) for n in range(1000)]
    all_faults = [Variant((faults[n % len(faults)],), spread_seed=n) for n in range(1000)]
    for state in circuit.states:
        print(f"{state:12} one {best_ms(lambda s=state: solve(circuit, s)):7.1f} ms", end="")
        for name, group in (("spread", plain), ("faults", mixed), ("with shorts", all_faults)):
            spent = best_ms(lambda s=state, g=group: solve_batch(circuit, s, g))
            print(f"   1000 {name} {spent:7.1f} ms", end="")
        print()
    print(f"blown_after 1000 {best_ms(lambda: blown_after(circuit, all_faults), 2):.1f} ms")


if __name__ == "__main__":
    main()
