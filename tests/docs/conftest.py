"""Fixtures of the page tests."""

from tests.cli.kept import keep_tables

__all__ = ["keep_tables"]
