"""Room spine: where the stamped faces of a photo are, and how to lay one out straight.

Takes an upright photo, gives `Face`s (a quadrilateral along a line of marks, its direction and
the height of its characters) and straightened strips of pixels.
"""

from stampreader.spine.face import Face, face_along, quad_angle, quad_size
from stampreader.spine.find import find_faces
from stampreader.spine.straighten import straighten

__all__ = ["Face", "face_along", "find_faces", "quad_angle", "quad_size", "straighten"]
