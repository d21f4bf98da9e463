"""Room photo."""
