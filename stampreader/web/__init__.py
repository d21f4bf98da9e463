"""Room web."""
