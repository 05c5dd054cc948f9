"""Template circuits: whole circuits of common vehicle functions, with values to fill in."""

from __future__ import annotations

from loomwright.circuit.templates.loader import (
    Parameter,
    Template,
    template,
    template_names,
    template_text,
)

__all__ = ["Parameter", "Template", "template", "template_names", "template_text"]
