"""Room likeness: what does not wear, compared between two pictures of a connector.

Takes colour pictures (of a face, or of a whole connector) and, where a photo sheet gives it, their
scale; gives for outline, size, gate and colour how much each supports or contradicts that they
show the same connector. A likeness never proves it: many connectors are alike.
"""

from stampreader.likeness.colour import Tint, find_tint
from stampreader.likeness.compare import Likeness, Speaks, compare_outlines, compare_tints
from stampreader.likeness.outline import Gate, Outline, find_outline

__all__ = [
    "Gate",
    "Likeness",
    "Outline",
    "Speaks",
    "Tint",
    "compare_outlines",
    "compare_tints",
    "find_outline",
    "find_tint",
]
