"""Room train."""
