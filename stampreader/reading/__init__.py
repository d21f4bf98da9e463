"""Room reading: joins the picture half and the paper half to one `Reading` a photo.

Takes photos (or their paths) and a `Desk` (readers, finder, thresholds); gives readings, their
JSON forms, crops as evidence, and a picture of what was read; and one reading of several shots
of a worn face. Many photos are read by worker
processes that can be killed, here or on the machines of a cluster, so that one bad file takes one
photo and not the run.
"""

from stampreader.reading.cluster import read_on_cluster
from stampreader.reading.desk import Desk, default_desk, default_readers, fast_desk
from stampreader.reading.evidence import evidence_crop, evidence_quad
from stampreader.reading.form import as_line, as_record, from_record
from stampreader.reading.minimum import demands
from stampreader.reading.pool import read_many
from stampreader.reading.shots import StackReading, read_shots
from stampreader.reading.side_by_side import side_by_side
from stampreader.reading.sketch import sketch
from stampreader.reading.standing import StandingCrew
from stampreader.reading.walk import read_photo
from stampreader.reading.worker import Attempt, Failure
from stampreader.relief import check_count

__all__ = [
    "Attempt",
    "Desk",
    "Failure",
    "StackReading",
    "StandingCrew",
    "as_line",
    "as_record",
    "check_count",
    "default_desk",
    "default_readers",
    "demands",
    "evidence_crop",
    "evidence_quad",
    "fast_desk",
    "from_record",
    "read_many",
    "read_on_cluster",
    "read_photo",
    "read_shots",
    "side_by_side",
    "sketch",
]
