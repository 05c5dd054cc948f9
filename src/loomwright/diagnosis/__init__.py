"""Diagnosis of any plant from readings: suspects, next check, verdict, proof, explanation."""

from loomwright.diagnosis.engine import diagnose
from loomwright.diagnosis.led_to import LedTo, led_to
from loomwright.diagnosis.proof import judge_proof, proof_checks
from loomwright.diagnosis.records import (
    Diagnosis,
    Evidence,
    NextCheck,
    Proof,
    ReadingWeight,
    Settings,
    Suspect,
    Verdict,
)
from loomwright.diagnosis.table import Table, build_table
from loomwright.diagnosis.unreached import without_checks

__all__ = [
    "Diagnosis",
    "Evidence",
    "LedTo",
    "NextCheck",
    "Proof",
    "ReadingWeight",
    "Settings",
    "Suspect",
    "Table",
    "Verdict",
    "build_table",
    "diagnose",
    "judge_proof",
    "led_to",
    "proof_checks",
    "without_checks",
]
