"""Room margin."""
