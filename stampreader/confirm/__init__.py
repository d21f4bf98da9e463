"""Room confirm."""
