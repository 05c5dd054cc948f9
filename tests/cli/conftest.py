"""Fixtures of the command tests."""

from tests.cli.kept import keep_tables

__all__ = ["keep_tables"]
