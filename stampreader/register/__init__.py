"""Room register."""
