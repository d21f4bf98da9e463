"""One photo from glyphs to a reading: agreement, doubt, the standards' veto, readers that stop."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from seen_glyphs import MARKS, SIZE, STAMP, Seeing, line

from stampreader.figures import Caps
from stampreader.photo import photo_from_pixels
from stampreader.reader import ReaderStopped
from stampreader.reading import demands, read_photo
from stampreader.spine import Face, quad_angle, quad_size
from stampreader.words import Doubt, Slot, State


def nowhere(_photo):
    """A finder for readers that need none."""
    return ()


def read(photo, *readers, **thresholds):
    """A reading with the trained reader's kind of thresholds."""
    return read_photo(photo, readers, nowhere, Caps(**thresholds))


def test_two_readers_agree(photo):
    """Three figures seen alike by two readers are sure; marks come in normal form."""
    reading = read(photo, Seeing(STAMP + MARKS, "one"), Seeing(STAMP + MARKS, "two"))
    (stamp,) = reading.stamps
    assert (27, 8, 7) == (stamp.closed.kN, stamp.cross.kN, stamp.open.kN)
    assert State.SURE == reading.outcome
    assert ["CE 9123", "EN 362:2004/B"] == [m.text for m in stamp.marks]
    assert ("one 1", "two 1") == reading.readers
    assert ("bench/one.jpg", photo.sha256, (1200, 900)) == (
        reading.photo,
        reading.sha256,
        reading.size,
    )


def test_one_reader_alone_is_never_sure(photo):
    """What only one reader saw is a question."""
    (stamp,) = read(photo, Seeing(STAMP, "one")).stamps
    assert {State.ASK} == {stamp.figure(slot).state for slot in Slot}
    assert Doubt.ONE_READER in stamp.closed.doubts


def test_readers_disagree(photo):
    """27 here and 21 there is a question about that figure and no other."""
    other = line("<closed> 21KN <cross> 8KN <open> 7KN")
    (stamp,) = read(photo, Seeing(STAMP, "one"), Seeing(other, "two")).stamps
    assert (State.ASK, State.SURE) == (stamp.closed.state, stamp.cross.state)
    assert Doubt.READERS_DISAGREE in stamp.closed.doubts


def test_uncalibrated_reader(photo):
    """Thresholds that were not measured for the leading reader leave nothing sure."""
    reading = read(photo, Seeing(STAMP), Seeing(STAMP, "two"), calibrated=False)
    assert State.ASK == reading.outcome


@pytest.mark.parametrize(
    "figures, state",
    [("<closed> 14KN <cross> 8KN", State.ASK), ("<closed> 15KN <cross> 8KN", State.SURE)],
    ids=["below", "reached"],
)
def test_minimum_of_the_claimed_class_is_a_veto(photo, figures, state):
    """EN 362:2004 class B: at least 15 kN closed, unlocked (EN 362:2004, as in satra.com/ppe)."""
    glyphs = line(figures) + MARKS
    (stamp,) = read(photo, Seeing(glyphs, "one"), Seeing(glyphs, "two")).stamps
    assert state is stamp.closed.state
    below = state is State.ASK
    assert below == (Doubt.BELOW_STANDARD in stamp.closed.doubts)
    assert below == any("misreading or a counterfeit" in note for note in stamp.notes)
    said = " ".join(demands(stamp))
    assert "EN 362:2004/B demands at least closed 15 kN, cross 7 kN" in said
    assert ("a figure falls short" if below else "reached by the figures read") in said


def test_the_minimum_never_repairs_a_digit(photo):
    """A figure below the minimum keeps the value that was read."""
    glyphs = line("<closed> 2KN <cross> 8KN") + MARKS
    (stamp,) = read(photo, Seeing(glyphs, "one"), Seeing(glyphs, "two")).stamps
    assert (Decimal(2), State.ASK) == (stamp.closed.kN, stamp.closed.state)


def test_nothing_seen(photo):
    """A photo without a stamp has no figures, the outcome none, and says what to do."""
    reading = read(photo, Seeing(), Seeing(name="two"))
    assert ((), State.NONE) == (reading.stamps, reading.outcome)
    assert any("No stamp was found" in note for note in reading.notes)


def test_a_reader_that_stops_leaves_a_note(photo):
    """When the second reader fails on a photo the first one's figures stay, as questions."""

    class Stopping(Seeing):
        def read_glyphs(self, photo, faces):
            raise ReaderStopped("Two took too long on this photo")

    reading = read(photo, Seeing(STAMP), Stopping(name="two"))
    assert State.ASK == reading.outcome
    assert 27 == reading.stamps[0].closed.kN
    assert any("Two took too long" in note for note in reading.notes)


def test_the_leading_reader_that_stops_leaves_no_figures(photo):
    """Without the leading reader nothing is read, and nothing is invented."""

    class Stopping(Seeing):
        def read_glyphs(self, photo, faces):
            raise ReaderStopped("One crashed")

    reading = read(photo, Stopping(), Seeing(STAMP, "two"))
    assert ((), State.NONE) == (reading.stamps, reading.outcome)


def test_second_reader_is_shown_lines_and_no_glyphs(photo):
    """The second reader gets each line's place, direction, height and baseline."""
    second = Seeing(name="two")
    read(photo, Seeing(STAMP + MARKS), second)
    (faces,) = second.shown
    assert 2 == len(faces) and all(isinstance(face, Face) for face in faces)
    upper = min(faces, key=lambda face: face.quad[0][1])
    assert upper.directed and abs(quad_angle(upper.quad)) < 1e-6
    assert abs(SIZE * 1.9 - quad_size(upper.quad)[1]) < 1
    assert SIZE == upper.glyph_px
    assert len(STAMP) == len(upper.baseline)


@pytest.mark.parametrize(
    "second, asked", [(STAMP, 0), (STAMP[4:], 1)], ids=["all figures agreed", "one missing"]
)
def test_slow_reader_is_asked_only_where_it_can_matter(photo, second, asked):
    """The slow reader is spared a photo on which two readers agree already."""
    slow = Seeing(STAMP, "slow", slow=True)
    reading = read(photo, Seeing(STAMP, "one"), Seeing(second, "two"), slow)
    assert asked == len(slow.shown)
    assert State.SURE == reading.outcome


def test_pure(photo):
    """The same photo and readers give the same reading, but for the time it took."""
    once, twice = (read(photo, Seeing(STAMP), Seeing(STAMP, "two")) for _ in range(2))
    assert replace(once, seconds=0) == replace(twice, seconds=0)


@pytest.mark.parametrize("size", [(1, 1), (20000, 200), (640, 480)])
@pytest.mark.parametrize("ground", ["black", "white", "noise"])
def test_glyphs_outside_the_photo_are_dropped(size, ground):
    """Whatever the picture, glyphs outside it never become figures."""
    shape = size[::-1]
    pixels = {
        "black": np.zeros(shape, np.uint8),
        "white": np.full(shape, 255, np.uint8),
        "noise": np.random.default_rng(1).integers(0, 256, shape, np.uint8),
    }[ground]
    far = line("<closed> 27KN", x=30000.0, y=30000.0)
    reading = read(photo_from_pixels(pixels), Seeing(far), Seeing(far, "two"))
    assert ((), State.NONE) == (reading.stamps, reading.outcome)


class Near:
    """A reader that sees a stamp only on faces of its liking; scripted, as `Seeing`."""

    def __init__(self, glyphs, *likes, name="one"):
        self.glyphs, self.likes, self.name, self.version = glyphs, likes, name, "1"

    def read_glyphs(self, photo, faces):
        """The glyphs, if it was shown such a face."""
        return tuple(self.glyphs) if {f.glyph_px for f in faces} & set(self.likes) else ()


def place(glyph_px):
    """A finder that finds one face with glyphs of a height."""
    return lambda _photo: (Face(((0, 0), (9, 0), (9, 9), (0, 9)), 0.0, glyph_px, 1.0),)


@pytest.mark.parametrize(
    ("likes", "figures"),
    [((30.0,), (27, 8, 7)), ((20.0,), (27, 8, 7)), ((), None)],
    ids=["only closer", "at once", "never"],
)
def test_where_little_was_read_the_photo_is_searched_closer(photo, likes, figures):
    """The closer search counts where it shows clearly more; where neither does, nothing is read."""
    asked = []
    closer = place(30.0)
    reading = read_photo(
        photo,
        [Near(STAMP, *likes)],
        place(20.0),
        Caps(),
        lambda p: asked.append(1) or closer(p),
    )
    read_figures = [(s.closed.kN, s.cross.kN, s.open.kN) for s in reading.stamps]
    assert ([figures] if figures else []) == read_figures
    assert (20.0 in likes) == (not asked)


def test_a_closer_search_that_is_no_better_changes_nothing(photo):
    """One figure seen the first time stays beside another one that is not seen better."""

    class Fickle(Near):
        def read_glyphs(self, photo, faces):
            first = faces[0].glyph_px == 20.0
            return tuple(line("<closed> 27KN" if first else "<closed> 21KN"))

    reading = read_photo(photo, [Fickle(())], place(20.0), Caps(), place(30.0))
    assert [27] == [s.closed.kN for s in reading.stamps]
