"""The terminal: one file per command, each a thin shell over `loomwright.service`."""

from __future__ import annotations

from loomwright.cli.entry import commands, main

__all__ = ["commands", "main"]
