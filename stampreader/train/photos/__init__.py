"""Path-traced photos of whole connectors: the project's test, tuning and calibration pictures.

Takes a kind of set, a seed and a count; gives JPEG photos as a phone would take them and an exact
truth file. Nothing here is shared with the renderer that trains the readers: other scene code,
other faces, other drawings of the pictograms, so that these sets do not share its habits.
"""

KINDS = ("test", "tuning", "calibration", "stack", "delivery")
GROUP = {"stack": "tuning", "delivery": "test"}
"""Whose faces a kind of set borrows."""
