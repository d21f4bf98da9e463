"""Schemas of what stampreader writes; installed as the package `stampreader.schema`."""
