"""Fixtures of the command tests."""

from tests.cli.kept import keep_tables
from tests.cli.lamp import lamp

__all__ = ["keep_tables", "lamp"]
