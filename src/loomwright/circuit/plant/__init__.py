"""The circuit as a plant: what the diagnosis engine sees of it."""

from loomwright.circuit.plant.bridge import CircuitPlant

__all__ = ["CircuitPlant"]
