"""Loomwright: a fault-finding bench book for vehicle electrical technicians."""

__all__ = ["__version__"]

__version__ = "0.1.0"
