"""The Tesseract reader: on recordings, on the real program, and when the program fails."""

import json

import numpy as np
import pytest
from drawn_stamps import drawn_stamp
from record_tesseract import FOLDER, key

from stampreader.errors import ReaderError
from stampreader.photo import load_photo, photo_from_pixels
from stampreader.reader import ReaderStopped, tesseract
from stampreader.reader.hocr import read_hocr
from stampreader.reader.tesseract import TesseractReader
from stampreader.spine import Face, face_along, find_faces

STAMP = FOLDER / "stamp.png"
TEXT = "27KN 8KN 7KN CE9123 EN362"


def recorded():
    """A reader that plays the answers recorded for the stamp, and fails on anything else."""
    photo = load_photo(STAMP)
    (version,) = {json.loads(p.read_text("utf-8"))["version"] for p in FOLDER.glob("*.json")}
    record = json.loads((FOLDER / f"{key(photo.sha256, version)}.json").read_text("utf-8"))
    answers = iter(record["answers"])
    return photo, TesseractReader(version, lambda *_: next(answers))


def in_lines(glyphs, turn_deg):
    """Characters of glyphs as rows of text, in the frame of a turned picture of 1600 × 1000."""
    turn = np.radians(turn_deg)
    cos, sin = np.cos(turn), np.sin(turn)
    rows = {}
    for g in glyphs:
        x, y = g.x - 800, g.y - 500
        along, down = x * cos + y * sin, -x * sin + y * cos
        rows.setdefault(round(down / 100), []).append((along, g.char))
    return ["".join(char for _, char in sorted(rows[row])) for row in sorted(rows)]


def test_recorded_answer():
    """From the recording: every character where it stands, upright, in pixels of the photo."""
    photo, reader = recorded()
    glyphs = reader.read_glyphs(photo, find_faces(photo))
    assert ["<closed>27KN<cross>8KN<open>7KN", "CE9123EN362"] == in_lines(glyphs, 20)
    assert all(abs(g.angle_deg - 20) < 2 and g.reader == "tesseract" for g in glyphs)
    capitals = [g.height_px for g in glyphs if g.char.isalnum()]
    assert np.allclose(38, capitals, atol=4)


@pytest.mark.tesseract
@pytest.mark.parametrize("turn_deg", [0, 40, 180, 215])
def test_real_program(turn_deg):
    """The installed program reads clean print at any turn; only the 8 may escape it."""
    photo = photo_from_pixels(drawn_stamp(turn_deg))
    glyphs = TesseractReader().read_glyphs(photo, find_faces(photo))
    text = " ".join(in_lines(glyphs, turn_deg))
    for part in ("27KN", "7KN", "9123", "362", "<closed>", "<cross>", "<open>"):
        assert part in text


@pytest.mark.tesseract
def test_version_is_the_programs():
    """The version recorded with readings is what the program says of itself."""
    import subprocess

    said = subprocess.run(["tesseract", "--version"], capture_output=True, text=True, check=True)
    assert TesseractReader().version in said.stdout + said.stderr


@pytest.mark.tesseract
def test_real_program_out_of_time():
    """A real run that takes too long is stopped and says so."""
    photo = photo_from_pixels(drawn_stamp())
    with pytest.raises(ReaderStopped, match="took too long"):
        TesseractReader(seconds=0.001).read_glyphs(photo, find_faces(photo))


def test_program_missing(monkeypatch):
    """Without the program the line says how to get it."""
    import pytesseract

    monkeypatch.setattr(pytesseract.pytesseract, "tesseract_cmd", "no-such-program")
    pytesseract.get_tesseract_version.__dict__.pop("_result", None)
    with pytest.raises(ReaderError) as raised:
        tesseract.program_version()
    assert "not installed" in str(raised.value) and "apt install" in raised.value.remedy


@pytest.mark.parametrize(
    "failure, reason",
    [
        (RuntimeError("Tesseract process timeout"), "took too long"),
        (RuntimeError("(1, 'Error opening data file eng.traineddata')"), "failed"),
        (OSError("no space left on device"), "failed"),
    ],
    ids=["timeout", "crash", "disk full"],
)
def test_program_fails(monkeypatch, failure, reason):
    """A program that hangs, crashes or cannot write stops this reader for this photo only."""
    import pytesseract

    def fail(*_args, **_options):
        raise failure

    monkeypatch.setattr(pytesseract, "image_to_pdf_or_hocr", fail)
    with pytest.raises(ReaderStopped, match=reason):
        tesseract.run_program(np.zeros((9, 9), np.uint8), "", 1.0)


def test_answer_that_is_no_utf_8(monkeypatch):
    """Bad UTF-8 in the answer is replaced; what cannot be understood stops the reader."""
    import pytesseract

    monkeypatch.setattr(pytesseract, "image_to_pdf_or_hocr", lambda *_a, **_o: b"<html>\xff</html>")
    text = tesseract.run_program(np.zeros((9, 9), np.uint8), "", 1.0)
    assert () == read_hocr(text)
    with pytest.raises(ReaderStopped, match="cannot be understood"):
        read_hocr("<html>")


def test_hocr_worked_example():
    """Boxes and scores of hOCR 1.2 (x_bboxes, x_conf) become centres, sizes and shares."""
    text = (
        "<html><div class='ocr_page'><span class='ocr_line'>"
        "<span class='ocrx_cinfo' title='x_bboxes 10 20 30 60; x_conf 98.5'>k</span>"
        "<span class='ocrx_cinfo' title='x_bboxes 34 52 40 60; x_conf 250'>.</span>"
        "<span class='ocrx_word' title='bbox 1 2 3 4'>word</span>"
        "</span></div></html>"
    )
    k, point = read_hocr(text)
    assert ("K", 20, 40, 20, 40, 0.985) == (k.char, k.x, k.y, k.width_px, k.height_px, k.confidence)
    assert (".", 8, 40, 1.0) == (point.char, point.height_px, point.line_px, point.confidence)


def test_directed_faces_are_read_one_way_round():
    """A face whose direction is known costs one run of the program, another face two."""
    runs = []
    photo = photo_from_pixels(drawn_stamp())
    reader = TesseractReader("0", lambda page, *_: runs.append(page.shape) or "<html/>")
    quad = face_along((700, 420), 900, 90, 0)
    seen = reader.read_glyphs(photo, (Face(quad, 0, 45, 1.0, directed=True),))
    assert {"<closed>", "<cross>", "<open>"} == {g.char for g in seen}
    assert 1 == len(runs)
    reader.read_glyphs(photo, (Face(quad, 0, 45, 1.0),))
    assert 3 == len(runs)


def test_no_faces_cost_nothing():
    """Without a face the program is not started."""
    reader = TesseractReader("0", lambda *_: pytest.fail("the program was started"))
    assert () == reader.read_glyphs(photo_from_pixels(drawn_stamp()), ())
