"""Strokes as SVG, with nothing from outside: it opens in any browser, without a network."""

from __future__ import annotations

from collections.abc import Iterable
from xml.sax.saxutils import escape, quoteattr

from stampreader.report.rig_picture.strokes import PT, Colour, Disc, Line, Stroke, Text, width_mm

FACES = "'DejaVu Sans Condensed','Liberation Sans Narrow','Arial Narrow',Arial,sans-serif"
ANCHORS = {"left": "start", "middle": "middle", "right": "end"}


def svg_bytes(strokes: Iterable[Stroke], size: tuple[float, float], title: str) -> bytes:
    """The page as an SVG file."""
    width, height = size
    body = "\n".join(_element(stroke) for stroke in strokes)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" font-family={quoteattr(FACES)} '
        'stroke-linecap="round" stroke-linejoin="round">\n'
        f"<title>{escape(clean(title))}</title>\n"
        f'<rect width="{width}" height="{height}" fill="#fff"/>\n{body}\n</svg>\n'
    ).encode()


def clean(text: str) -> str:
    """A text without the characters that XML forbids."""
    return "".join(c for c in text if ord(c) >= 32 and not 0xD800 <= ord(c) <= 0xDFFF)


def _element(stroke: Stroke) -> str:
    if isinstance(stroke, Line):
        return _line(stroke)
    return _disc(stroke) if isinstance(stroke, Disc) else _text(stroke)


def _line(line: Line) -> str:
    spots = " ".join(f"{x:.2f},{y:.2f}" for x, y in line.spots)
    name = "polygon" if line.closed else "polyline"
    dash = f' stroke-dasharray="{" ".join(f"{d:g}" for d in line.dash)}"' if line.dash else ""
    return f'<{name} points="{spots}" {_paint(line.fill, line.colour, line.width)}{dash}/>'


def _disc(disc: Disc) -> str:
    x, y = disc.at
    look = _paint(disc.fill, disc.colour, disc.width)
    return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{disc.radius:.2f}" {look}/>'


def _text(text: Text) -> str:
    x, y = text.at
    turn = f' transform="rotate({text.turn_deg:.1f} {x:.2f} {y:.2f})"' if text.turn_deg else ""
    weight = ' font-weight="bold"' * text.bold
    # the given length keeps other faces from running out of their box
    length = width_mm(text.text, text.size, text.bold)
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{text.size * PT:.2f}"{weight} '
        f'fill="{_hex(text.colour)}" text-anchor="{ANCHORS[text.align]}" '
        f'textLength="{length:.2f}" lengthAdjust="spacingAndGlyphs"{turn}>'
        f"{escape(clean(text.text))}</text>"
    )


def _paint(fill: Colour | None, colour: Colour, width: float) -> str:
    inside = "none" if fill is None else _hex(fill)
    line = f'stroke="{_hex(colour)}" stroke-width="{width:g}"' if width else 'stroke="none"'
    return f'fill="{inside}" {line}'


def _hex(colour: Colour) -> str:
    return "#{:02x}{:02x}{:02x}".format(*colour)
