"""Room relief: several shots of one face with the lamp moved, put together.

Takes 3 to 12 upright photos and a finder of written faces. Gives the shots laid on each other to
a fraction of a pixel (which fit and which do not, and why), a relief map and a reflectance map of
the face, where the lamp stood at each shot and where it should stand next, and one set of glyphs
fused from what readers saw on each.
"""

from stampreader.relief.advise import Lamp, lamps_of, next_shot
from stampreader.relief.frame import Frame
from stampreader.relief.fuse import effective, fuse_looks
from stampreader.relief.maps import FEWEST_SHOTS, Relief, combine
from stampreader.relief.stack import MOST_SHOTS, Fit, Stack, check_count, look_closer, stack_shots

__all__ = [
    "FEWEST_SHOTS",
    "MOST_SHOTS",
    "Fit",
    "Frame",
    "Lamp",
    "Relief",
    "Stack",
    "check_count",
    "combine",
    "effective",
    "fuse_looks",
    "lamps_of",
    "look_closer",
    "next_shot",
    "stack_shots",
]
