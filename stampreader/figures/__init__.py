"""Glyphs to strength figures: takes what readers saw, gives stamps with closed, cross and open.

`find_stamps` groups the glyphs of the first reader into stamps and reads each the right way
round; `judge` adds what the other readers saw and gives every figure a state. Pictograms decide
the slot; order alone never makes a figure sure. Pure: no pixels, no files.
"""

from stampreader.figures.caps import Caps
from stampreader.figures.draft import Draft, Span, find_stamps
from stampreader.figures.judge import features, judge

__all__ = ["Caps", "Draft", "Span", "features", "find_stamps", "judge"]
