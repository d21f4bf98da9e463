"""stampreader: reads the strength figures stamped on connectors and keeps a register of them."""

__version__ = "0.1.0"
