"""Room figures."""
