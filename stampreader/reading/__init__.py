"""Room reading."""
