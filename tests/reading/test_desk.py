"""Which readers a photo is read with, and what is said when one is missing."""

import pytest

from stampreader.errors import ReaderError, UsageError
from stampreader.figures import Caps
from stampreader.reader import tesseract
from stampreader.reading import default_desk, default_readers
from stampreader.reading.desk import caps_of


def no_program():
    """The Tesseract program is not there."""
    raise ReaderError("the Tesseract program is not installed", remedy="Install it.")


def test_embedded_readers_lead():
    """The glyph detector leads, the line reader is second; their order in the request is ours."""
    assert ["net", "line"] == [reader.name for reader in default_readers(["line", "net"])]


def test_the_leading_reader_brings_finder_and_thresholds():
    """The desk looks where the detector's own finder looks, with the thresholds on its card."""
    desk = default_desk(["net", "line"])
    assert desk.readers[0].find_faces == desk.finder
    assert Caps.from_mapping(desk.readers[0].caps) == desk.caps


def test_without_the_program_the_embedded_readers_read(monkeypatch):
    """Tesseract is a guest: without it the others are used, unless it was asked for by name."""
    monkeypatch.setattr(tesseract, "program_version", no_program)
    assert ["net", "line"] == [reader.name for reader in default_readers()]
    with pytest.raises(ReaderError, match="not installed"):
        default_readers(["tesseract"])


def test_altered_weights_are_an_error(monkeypatch):
    """Embedded readers that cannot be loaded stop the command; no other quietly takes their place."""
    from stampreader.reader import net

    def altered(_part):
        raise ReaderError("the weights detector.onnx are not the ones they should be")

    monkeypatch.setattr(net, "load", altered)
    with pytest.raises(ReaderError) as raised:
        default_readers()
    assert "Reinstall stampreader" in raised.value.line()


def test_unknown_reader():
    """A name that is no reader lists the names there are."""
    with pytest.raises(UsageError) as raised:
        default_readers(["net", "crystal-ball"])
    assert "net, line, tesseract" in raised.value.line()


def test_a_reader_without_a_card_is_uncalibrated():
    """Thresholds nobody measured are marked so, and nothing of that reader is sure."""
    assert not caps_of(tesseract.TesseractReader("5", run=lambda *_: "")).calibrated
