"""Room spine."""
