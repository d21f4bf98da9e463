"""Room photo: image files in, upright pixels out.

Takes paths as the user gave them. Gives a `Photo` (grey pixels now, colour on demand, SHA-256 of
the file, time taken), the list of photos in folders, the QR labels seen in a photo, and the
cells of a photo sheet with their scale. Size is
checked before decoding; a photo is turned upright exactly once.
"""

from stampreader.photo.file import Limits, Photo, load_photo, photo_from_pixels
from stampreader.photo.folder import DRAWN, find_photos
from stampreader.photo.labels import Label, read_labels
from stampreader.photo.names import printable
from stampreader.photo.sheet import Cell, read_sheet

__all__ = [
    "DRAWN",
    "Cell",
    "Label",
    "Limits",
    "Photo",
    "find_photos",
    "load_photo",
    "photo_from_pixels",
    "printable",
    "read_labels",
    "read_sheet",
]
