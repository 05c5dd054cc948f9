"""Seeded evaluation of the diagnosis engine on vehicles that are not its own model."""
