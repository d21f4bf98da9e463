"""Records what the Tesseract program answers, for tests that run without it.

Run `python tests/reader/record_tesseract.py` after a change of the arguments or of the strips. A recording
is keyed by the picture's hash, the arguments and the program's version.
"""

import hashlib
import json
from pathlib import Path

import cv2
from drawn_stamps import drawn_stamp

from stampreader.photo import load_photo
from stampreader.reader.tesseract import ARGUMENTS, TesseractReader, program_version, run_program
from stampreader.spine import find_faces

FOLDER = Path(__file__).parent / "recordings"


def key(sha256, version):
    """Name of a recording."""
    return hashlib.sha256(f"{sha256}\n{ARGUMENTS}\n{version}".encode()).hexdigest()[:16]


def main():
    """Draw the stamp, run the program on it, and keep every answer in order."""
    picture = FOLDER / "stamp.png"
    cv2.imwrite(str(picture), drawn_stamp(20))
    photo = load_photo(picture)
    answers = []

    def run(page, arguments, seconds):
        answers.append(run_program(page, arguments, seconds))
        return answers[-1]

    version = program_version()
    TesseractReader(version, run).read_glyphs(photo, find_faces(photo))
    record = {"version": version, "answers": answers}
    place = FOLDER / f"{key(photo.sha256, version)}.json"
    place.write_text(json.dumps(record, indent=1), "utf-8")


if __name__ == "__main__":
    main()
