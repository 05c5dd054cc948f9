"""The bench in the browser."""
