"""The picture of a rig: complete, to scale, the same in three formats, readable without colour."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Callable
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pypdfium2
import pytest
from PIL import Image

from stampreader.paper import A4, Rect
from stampreader.report.rig_picture import rig_picture
from stampreader.report.rig_picture.labels import Crowd, crosses, inside, overlap
from stampreader.report.rig_picture.page import page
from stampreader.report.rig_picture.png import _dashes
from stampreader.report.rig_picture.routes import flat
from stampreader.report.rig_picture.scene import best_turn, lay_out
from stampreader.report.rig_picture.strokes import Disc, Line, Text, shortened_to, width_mm, wrapped
from stampreader.report.rig_picture.symbols import sign
from stampreader.report.rig_picture.tags import tags
from stampreader.rig import Outcome, Worked, read_plan, work_out
from stampreader.words import CAUTION

Work = Callable[..., Worked]
ROOT = Path(__file__).resolve().parents[2]
READY = sorted((ROOT / "stampreader" / "rig" / "ready").glob("*.toml"))
AT = datetime(2025, 3, 1, 12, 0, tzinfo=UTC)
SVG = "{http://www.w3.org/2000/svg}"


def ready(path: Path) -> Worked:
    """A ready plan worked out."""
    return work_out(read_plan(path.read_text("utf-8"), path.name))


def texts(svg: bytes) -> list[str]:
    """All texts of an SVG, in order."""
    return [node.text or "" for node in ElementTree.fromstring(svg).iter(f"{SVG}text")]


@pytest.mark.parametrize("path", READY, ids=lambda path: path.stem)
def test_everything_is_on_the_picture(path: Path) -> None:
    """Each point with its force, each margin, the ratio, the weakest mark and the caution."""
    worked = ready(path)
    found = texts(rig_picture(worked, "svg", AT))
    whole = " ".join(found)
    for name in worked.plan.points:
        assert name in found, name
    for row in worked.rows:
        assert str(row.margin) in found
        assert f"{row.force_kN} kN" in found
    assert 1 == found.count("weakest")
    assert CAUTION.split(". ")[0] in whole
    assert f"{worked.plan.ratio}:1" in whole
    assert worked.plan.title in found


@pytest.mark.parametrize("path", READY, ids=lambda path: path.stem)
def test_nothing_leaves_the_page(path: Path) -> None:
    """Every stroke lies on the sheet, clear of the edge a printer cannot reach."""
    sheet = Rect(5, 5, A4.width - 10, A4.height - 10)
    for stroke in page(ready(path), AT):
        if isinstance(stroke, Line):
            assert all(inside(sheet, spot) for spot in stroke.spots)
        elif isinstance(stroke, Disc):
            assert inside(sheet, stroke.at)
        else:
            wide = width_mm(stroke.text, stroke.size, stroke.bold)
            back = {"left": 0.0, "middle": 0.5, "right": 1.0}[stroke.align] * wide
            if not stroke.turn_deg:
                assert inside(sheet, (stroke.at[0] - back, stroke.at[1]))
                assert inside(sheet, (stroke.at[0] - back + wide, stroke.at[1]))


@pytest.mark.parametrize("path", READY, ids=lambda path: path.stem)
def test_points_lie_to_scale(path: Path) -> None:
    """Distances between points on paper are those of the plan times one scale."""
    scene = lay_out(ready(path), Rect(12, 40, 186, 146))
    names = list(scene.spots)
    for a in names:
        for b in names:
            real = math.dist(scene.plan.points[a].at, scene.plan.points[b].at)
            assert real * scene.scale == pytest.approx(math.dist(scene.spots[a], scene.spots[b]))


@pytest.mark.parametrize("path", READY, ids=lambda path: path.stem)
def test_tags_do_not_lie_over_each_other(path: Path) -> None:
    """No tag covers another, and the leaders of tags do not cross."""
    scene = lay_out(ready(path), Rect(12, 40, 186, 146))
    crowd = Crowd(scene.frame)
    strokes = list(tags(scene, crowd))
    boxes = crowd.boxes
    assert len(boxes) >= len(scene.plan.points)
    for index, box in enumerate(boxes):
        assert all(overlap(box, other) == 0 for other in boxes[:index])
    leaders = [
        s.spots for s in strokes if isinstance(s, Line) and len(s.spots) == 2 and not s.closed
    ]
    for index, leader in enumerate(leaders):
        assert not any(crosses(leader, other) for other in leaders[:index])


@pytest.mark.parametrize("path", READY, ids=lambda path: path.stem)
def test_ropes_run_without_a_kink(path: Path) -> None:
    """A rope on paper turns smoothly: neighbouring pieces differ by less than a right angle."""
    scene = lay_out(ready(path), Rect(12, 40, 186, 146))
    for route in scene.routes:
        spots = [
            s
            for i, s in enumerate(route.spots)
            if i == 0 or math.dist(s, route.spots[i - 1]) > 1e-3
        ]
        for a, b, c in zip(spots, spots[1:], spots[2:], strict=False):
            dot = (b[0] - a[0]) * (c[0] - b[0]) + (b[1] - a[1]) * (c[1] - b[1])
            assert dot > 0, route.rope.name


def test_loads_hang_straight_down() -> None:
    """The strand of a hanging load stays upright on paper where it is in the plan."""
    for path in READY:
        scene = lay_out(ready(path), Rect(12, 40, 186, 146))
        for route in scene.routes:
            for stop, (a, b) in enumerate(route.straight):
                ends = (route.rope.path[stop].point, route.rope.path[stop + 1].point)
                if (
                    "load" in ends
                    and scene.plan.points[ends[0]].at[0] == scene.plan.points[ends[1]].at[0]
                ):
                    assert a[0] == pytest.approx(b[0], abs=1e-6), (path.stem, ends)


def test_three_formats_show_the_same(worked: Work) -> None:
    """SVG, PNG and PDF are one drawing: the same ink at the same places, within a percent."""
    found = ready(READY[0])
    png = Image.open(io.BytesIO(rig_picture(found, "png", AT))).convert("L")
    pdf = pypdfium2.PdfDocument(rig_picture(found, "pdf", AT))
    assert 1 == len(pdf)
    assert (A4.width, A4.height) == pytest.approx(
        tuple(25.4 / 72 * s for s in pdf[0].get_size()), abs=0.1
    )
    drawn = pdf[0].render(scale=200 / 72).to_pil().convert("L").resize(png.size)
    cells = (21, 30)
    one = list(png.resize(cells, Image.Resampling.BOX).tobytes())
    other = list(drawn.resize(cells, Image.Resampling.BOX).tobytes())
    assert max(abs(a - b) for a, b in zip(one, other, strict=True)) < 14
    text = pdf[0].get_textpage().get_text_range()
    assert found.plan.title in text


def test_the_same_plan_gives_the_same_file() -> None:
    """The picture depends on the plan and the time printed on it alone."""
    for kind in ("svg", "png", "pdf"):
        assert rig_picture(ready(READY[1]), kind, AT) == rig_picture(ready(READY[1]), kind, AT)


def test_signs_differ_without_colour() -> None:
    """Each verdict has a shape of its own: drawn in black on white no two are alike."""
    drawn = {}
    for outcome in Outcome:
        shapes = []
        for stroke in sign(outcome, (0.0, 0.0), 2.0):
            spots = stroke.spots if isinstance(stroke, Line) else (stroke.at,)
            shapes.append(
                (type(stroke).__name__, tuple((round(x, 2), round(y, 2)) for x, y in spots))
            )
        drawn[outcome] = tuple(shapes)
    assert len(Outcome) == len(set(drawn.values()))


def test_greys_stand_out() -> None:
    """Printed in black and white, ropes, text and signs keep at least 3 to 1 against the paper
    (contrast formula of WCAG 2.2)."""
    from stampreader.report.rig_picture import strokes

    def light(colour: tuple[int, int, int]) -> float:
        parts = [c / 255 for c in colour]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    for colour in (strokes.INK, strokes.QUIET, strokes.DEEP, strokes.RED):
        assert 1.05 / (light(colour) + 0.05) > 3


def test_names_from_anywhere(worked: Work) -> None:
    """Names with accents, marks of XML and long words are drawn, not broken."""
    text = (
        'title = "Übung <Ž> & \\"Čep\\""\n[point."Pfeiler <1> & ein sehr langer WWWWWWW"]\n'
        'kind = "anchor"\nat = [0, 0]\nheld_by = [{ name = "Ω ≥ 漢字", strength = 20 }]\n'
        '[point.load]\nkind = "load"\nat = [0, -1]\nforce = "1 kN"\n'
        '[rope.m]\npath = ["Pfeiler <1> & ein sehr langer WWWWWWW", "load"]\n'
    )
    found = worked(text)
    names = texts(rig_picture(found, "svg", AT))
    assert 'Übung <Ž> & "Čep"' in names
    assert any(name.startswith("Pfeiler <1>") and name.endswith("…") for name in names)
    assert rig_picture(found, "pdf", AT).startswith(b"%PDF")
    assert rig_picture(found, "png", AT).startswith(b"\x89PNG")


def test_many_rows_go_into_two_columns_and_are_counted(worked: Work) -> None:
    """A plan with more hardware than one page holds says how many pieces are not listed."""
    hold = "{ figures = '27/8/7' }, " * 10
    text = "[point.load]\nkind = 'load'\nat = [0, -5]\nforce = '1 kN'\n"
    path = ["load"]
    for n in range(12):
        text += f"[point.p{n}]\nkind = 'anchor'\nat = [{n}, {n % 2}]\nefficiency = 1\nheld_by = [{hold}]\n"
        path.append(f"p{n}")
    text += f"[rope.m]\npath = {path}\n"
    found = worked(text)
    assert 120 == len(found.rows)
    written = " ".join(texts(rig_picture(found, "svg", AT)))
    listed = len(re.findall(r"27 kN closed", written))
    assert f"{120 - listed} more pieces, none with a lower margin" in written


def test_space_is_turned_until_parts_are_seen_apart(worked: Work) -> None:
    """A plan in space is drawn from where no two legs lie on one another."""
    text = "[point.load]\nkind = 'load'\nat = [0, 0, 0]\nforce = '1 kN'\n"
    for n, (x, y) in enumerate(((2, 0), (0, 2), (-2, 0), (0, -2))):
        text += f"[point.b{n}]\nkind = 'anchor'\nat = [{x}, {y}, 2]\n"
    text += "[anchor.a]\njoins = 'load'\nlegs = ['b0', 'b1', 'b2', 'b3']\n"
    found = worked(text)
    turn = best_turn(found.plan)
    ways = [math.atan2(*flat(found.plan.points[f"b{n}"].at, turn)) for n in range(4)]
    apart = min(abs(a - b) for i, a in enumerate(ways) for b in ways[:i])
    assert apart > math.radians(8)
    assert "seen from the front and above" in " ".join(texts(rig_picture(found, "svg", AT)))


def test_text_is_fitted() -> None:
    """Lines are broken and cut to the width they have."""
    lines = wrapped("one two three four five six seven", 8, 20)
    assert all(width_mm(line, 8) <= 20 for line in lines)
    assert "one two three four five six seven" == " ".join(lines)
    assert width_mm(shortened_to("a very long name indeed", 8, 15), 8) <= 15


def test_dashes_cover_their_share() -> None:
    """A dashed line draws stroke and gap in turn along the whole path."""
    pieces = list(_dashes([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)], [2.0, 2.0]))
    assert 10.0 == pytest.approx(
        sum(math.dist(a, b) for piece in pieces for a, b in pairwise(piece))
    )


def test_pdf_without_its_part_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without fpdf2 the PDF is refused with the command that installs it."""
    import sys

    from stampreader.errors import StampError

    monkeypatch.setitem(sys.modules, "stampreader.report.rig_picture.pdf", None)
    with pytest.raises(StampError, match="fpdf2") as caught:
        rig_picture(ready(READY[0]), "pdf", AT)
    assert "pip install" in caught.value.remedy


def test_text_strokes_are_upright_or_along_their_strand() -> None:
    """No text stands on its head."""
    for path in READY:
        for stroke in page(ready(path), AT):
            if isinstance(stroke, Text):
                assert -90.5 <= stroke.turn_deg <= 90
