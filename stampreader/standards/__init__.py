"""Room standards."""
