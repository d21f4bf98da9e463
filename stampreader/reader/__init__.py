"""Room reader."""
