"""Room report."""
