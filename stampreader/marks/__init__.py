"""Room marks."""
