"""Room rig."""
