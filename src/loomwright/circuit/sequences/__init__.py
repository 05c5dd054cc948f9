"""Sequences: what a circuit does over time, step by step, with timers, latches and fuses."""

from __future__ import annotations

from loomwright.circuit.sequences.records import LoadTime, Moment, SequenceResult
from loomwright.circuit.sequences.run import run_sequence

__all__ = ["LoadTime", "Moment", "SequenceResult", "run_sequence"]
