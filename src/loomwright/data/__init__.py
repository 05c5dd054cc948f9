"""Reference tables with their sources, read from CSV files when first asked for."""

from loomwright.data.conductors import wire_ohm_per_m, wire_source_text
from loomwright.data.tables import Source, Table, source, table, table_names

__all__ = [
    "Source",
    "Table",
    "source",
    "table",
    "table_names",
    "wire_ohm_per_m",
    "wire_source_text",
]
