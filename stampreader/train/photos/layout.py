"""Lays a stamp out on the strip of metal: glyphs and pictograms with place, size and direction.

Strip coordinates are millimetres: x along the reading direction, y upwards, origin in the middle
of the strip. A layout is a list of lines; a line is a list of tokens set one after the other.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from .content import Content
from .faces import Face
from .pictograms import Drawing, Family, draw, glyph_name

SLOT_ORDERS = (
    ("closed", "cross", "open"),
    ("closed", "open", "cross"),
    ("open", "closed", "cross"),
    ("cross", "closed", "open"),
)


@dataclass
class Placed:
    """One glyph on the strip.

    Attributes:
        char: the character or pictogram name.
        x, y: centre, mm.
        cap: height of a capital of its line, mm.
        w, h: extent along and across the reading direction, mm.
        angle: reading direction, degrees anticlockwise from the strip's x.
        role: closed, cross or open where it belongs to a figure, else "".
        drawing: the pictogram's drawing, scaled to mm; None for characters.
        scale: width factor of characters (condensed or wide setting).
    """

    char: str
    x: float
    y: float
    cap: float
    w: float
    h: float
    angle: float = 0.0
    role: str = ""
    drawing: Drawing | None = None
    scale: float = 1.0


@dataclass(frozen=True)
class Style:
    """How one maker sets a stamp.

    Attributes:
        place: pictogram before, after, above or below its figure, or none.
        unit_way: 'each', 'end' or 'never'.
        shape: 'row' (one line), 'two' (figures over marks), 'ladder' (across the spine).
        gap: space between groups, in cap heights; tracking: between characters.
    """

    place: str
    unit_way: str
    separator: str
    shape: str
    order: tuple[str, ...]
    upright: bool
    cap: float
    mark_cap: float
    picto: float
    gap: float
    tracking: float
    width: float
    unit_small: bool
    marks_first: bool
    jitter: float = 0.0


@dataclass
class Token:
    """Text or a pictogram waiting for its place."""

    text: str = ""
    role: str = ""
    cap: float = 1.0
    drawing: Drawing | None = None
    dy: float = 0.0
    gap: float = 0.0
    ring: bool = False


@dataclass
class Strip:
    """A finished layout, in mm."""

    glyphs: list[Placed] = field(default_factory=list)
    length: float = 0.0
    height: float = 0.0
    cap: float = 0.0
    shown_marks: list[str] = field(default_factory=list)
    shown_extras: dict[str, str] = field(default_factory=dict)


def invent_style(rng: np.random.Generator, content: Content, hand: bool) -> Style:
    """A way to set the stamp; `hand` for punches struck one by one."""
    r = rng.random
    place = ("before", "after", "above", "below", "none")[
        int(rng.choice(5, p=[0.56, 0.17, 0.1, 0.07, 0.1]))
    ]
    shape = ("row", "two", "ladder")[int(rng.choice(3, p=[0.45, 0.43, 0.12]))]
    place = "before" if shape == "ladder" and place in ("above", "below") else place
    order = SLOT_ORDERS[int(rng.choice(4, p=[0.8, 0.12, 0.04, 0.04]))]
    if place == "none":
        order = SLOT_ORDERS[0]
    cap = float(np.clip(rng.lognormal(np.log(2.6), 0.25), 1.7, 4.6))
    return Style(
        place=place,
        unit_way=("each", "end", "never")[int(rng.choice(3, p=[0.55, 0.3, 0.15]))],
        separator=("", "/", "-", "·")[int(rng.choice(4, p=[0.72, 0.14, 0.08, 0.06]))],
        shape=shape,
        order=order,
        upright=shape == "ladder" or r() < 0.2,
        cap=cap,
        mark_cap=cap * float(rng.uniform(0.55, 0.95)),
        picto=float(rng.uniform(1.0, 1.5)),
        gap=float(rng.uniform(0.55, 1.6)),
        tracking=float(rng.uniform(0.02, 0.3 if hand else 0.16)),
        width=float(rng.uniform(0.85, 1.15)),
        unit_small=r() < 0.25,
        marks_first=r() < 0.35,
        jitter=float(rng.uniform(0.02, 0.09)) if hand else 0.0,
    )


def _unit_text(content: Content, style: Style, last: bool) -> str:
    if style.unit_way == "never" and content.unit == "kN":
        return ""
    return content.unit if style.unit_way == "each" or last or content.unit != "kN" else ""


def _picto_token(style: Style, family: Family, slot: str, upright: bool) -> Token:
    drawing = draw(family, slot, upright)
    size = style.cap * style.picto * (0.85 if family.arrows == "outside" else 1.0)
    tall = max(drawing.height, 0.5)
    size /= tall if upright and tall > 1.4 else 1.0
    return Token(
        glyph_name(family, slot), slot, style.cap, drawing.scaled(size), gap=style.cap * 0.3
    )


def figure_groups(content: Content, style: Style, family: Family) -> list[list[Token]]:
    """One group of tokens a figure, in the order they stand in."""
    slots = [s for s in style.order if s in content.figures]
    groups = []
    for i, slot in enumerate(slots):
        last = i == len(slots) - 1
        number = Token(content.figures[slot], slot, style.cap, gap=style.cap * 0.3)
        unit = _unit_text(content, style, last)
        group = [number]
        if unit:
            cap = style.cap * (0.75 if style.unit_small else 1.0)
            group.append(Token(unit, "", cap, gap=style.cap * 0.12))
        if style.place != "none":
            _add_pictogram(group, _picto_token(style, family, slot, style.upright), style)
        if style.separator and not last:
            group.append(Token(style.separator, "", style.cap, gap=style.cap * 0.25))
        group[0].gap = style.gap * style.cap * (0.5 if style.separator else 1.0)
        groups.append(group)
    return groups


def _add_pictogram(group: list[Token], picto: Token, style: Style) -> None:
    if style.place == "before":
        group.insert(0, picto)
    elif style.place == "after":
        group.append(picto)
    else:
        assert picto.drawing is not None
        rise = style.cap * 0.68 + picto.drawing.height / 2
        picto.dy = rise if style.place == "above" else -rise
        group.append(picto)


def mark_tokens(content: Content, style: Style, rng: np.random.Generator) -> list[Token]:
    """Marks, ringed letter, serial and maker in some order, small caps of the line."""
    tokens = []
    for normal, text in content.marks.items():
        tokens.append(Token(text, "mark:" + normal, style.mark_cap))
    for name, text in content.extras.items():
        cap = style.mark_cap * (1.25 if name == "maker" else 1.0)
        tokens.append(Token(text, "extra:" + name, cap))
    if content.letter:
        tokens.append(Token(content.letter, "letter", style.mark_cap, ring=True))
    order = rng.permutation(len(tokens))
    for token in tokens:
        token.gap = style.mark_cap * float(rng.uniform(0.8, 1.4))
    return [tokens[i] for i in order]


class Setter:
    """Sets tokens one after the other and collects the placed glyphs."""

    def __init__(self, face: Face, style: Style) -> None:
        self.face, self.style = face, style
        self.glyphs: list[Placed] = []

    def width(self, token: Token) -> float:
        """Length a token takes, without its gap."""
        if token.drawing is not None:
            return token.drawing.width if token.dy == 0 else 0.0
        text = sum(self._advance(c, token.cap) for c in token.text)
        return text + (token.cap * 0.9 if token.ring else 0.0)

    def _advance(self, char: str, cap: float) -> float:
        if char == " " or not self.face.has(char):
            return cap * 0.42
        contours, advance = self.face.outline(char)
        ink = np.concatenate(contours) if contours else np.zeros((1, 2))
        snug = float(np.ptp(ink[:, 0])) + 0.12
        return cap * (min(advance, snug) * self.style.width + self.style.tracking)

    def line_width(self, tokens: list[Token]) -> float:
        """Length of a line of tokens."""
        widths = [self.width(t) for t in tokens]
        return sum(widths) + sum(t.gap for t in tokens[1:] if t.dy == 0)

    def set_line(self, tokens: list[Token], x: float, y: float) -> None:
        """Place tokens from x on, centred on the height y."""
        first, start, group_end = True, x, x
        for token in tokens:
            if token.dy != 0:  # above or below the number just set
                self._pictogram(token, (start + group_end) / 2, y + token.dy)
                continue
            x += 0.0 if first else token.gap
            first = False
            if token.drawing is not None:
                self._pictogram(token, x + token.drawing.width / 2, y)
                x += token.drawing.width
            else:
                end = self._text(token, x, y)
                if token.role in ("closed", "cross", "open"):
                    start, group_end = x, end
                x = end

    def _pictogram(self, token: Token, x: float, y: float) -> None:
        d = token.drawing
        assert d is not None
        self.glyphs.append(Placed(token.text, x, y, token.cap, d.width, d.height, 0, token.role, d))

    def _text(self, token: Token, x: float, y: float) -> float:
        cap = token.cap
        if token.ring:
            self.glyphs.append(
                Placed("<ring>", x + cap * 0.8, y, cap, cap * 1.75, cap * 1.75, 0, token.role)
            )
            x += cap * 0.45
        for char in token.text:
            step = self._advance(char, cap)
            if char == "(":
                x += cap * 0.1
            if char != " " and self.face.has(char):
                w = step - cap * self.style.tracking
                self.glyphs.append(
                    Placed(char, x + w / 2, y, cap, w, cap, 0, token.role, None, self.style.width)
                )
            x += step
        return x + (cap * 0.45 if token.ring else 0.0)


def _fit(tokens: list[Token], setter: Setter, room: float) -> list[Token]:
    """Drop tokens from the end until the line fits."""
    kept = list(tokens)
    while kept and setter.line_width(kept) > room:
        kept.pop()
    return kept


def lay_out(
    content: Content,
    style: Style,
    face: Face,
    family: Family,
    room: tuple[float, float],
    rng: np.random.Generator,
) -> Strip:
    """Lay the stamp out in a strip of (length, height) mm; figures always fit, marks may not."""
    setter = Setter(face, style)
    groups = figure_groups(content, style, family)
    marks = mark_tokens(content, style, rng)
    if style.shape == "ladder":
        _ladder(setter, groups, marks, room, style)
    else:
        _rows(setter, groups, marks, room, style)
    strip = Strip(setter.glyphs)
    _squeeze(strip, room)
    _note_shown(strip, content)
    return strip


def _rows(
    setter: Setter, groups: list[list[Token]], marks: list[Token], room: tuple, style: Style
) -> None:
    figures = [t for g in groups for t in g]
    long = setter.line_width(figures)
    limit = max(room[0], long)
    if style.shape == "row":
        extra = _fit(marks, setter, limit - long - style.cap)
        if extra:
            extra[0].gap = figures[0].gap = style.cap * 1.2
        line = [*extra, *figures] if style.marks_first else [*figures, *extra]
        setter.set_line(line, -setter.line_width(line) / 2, 0.0)
        return
    below = style.marks_first == (style.place == "above")  # pictograms on the side of the marks
    drop = _reach(figures, style, below) + style.mark_cap * 0.75
    extra = _fit(marks, setter, max(limit, room[0] * 0.95))
    sign = 1 if style.marks_first else -1
    setter.set_line(figures, -long / 2, -sign * drop / 2)
    setter.set_line(extra, -setter.line_width(extra) / 2, sign * drop / 2)


def _reach(figures: list[Token], style: Style, towards_marks: bool) -> float:
    """From the figures' middle to the edge of what stands towards the marks, mm."""
    reach = style.cap / 2
    for token in figures:
        if token.drawing is not None and (token.dy == 0 or towards_marks):
            reach = max(reach, abs(token.dy) + token.drawing.height / 2)
    return reach


def _ladder(
    setter: Setter, groups: list[list[Token]], marks: list[Token], room: tuple, style: Style
) -> None:
    """Each figure on its own short line across the spine, marks along the rest of it."""
    pitch = style.cap * max(1.55, style.picto * 1.25)
    top = pitch * (len(groups) - 1) / 2
    for i, group in enumerate(groups):
        line = [t for t in group if t.text not in ("/", "-", "·")]
        setter.set_line(line, -setter.line_width(line) / 2, top - i * pitch)
    turned = setter.glyphs
    shift = -room[0] / 2 + top + pitch
    for g in turned:  # a quarter turn: text up is the strip's minus x
        g.x, g.y, g.angle = -g.y + shift, g.x, 90.0
    setter.glyphs = []
    left = shift + top + pitch
    extra = _fit(marks, setter, room[0] / 2 - left)
    setter.set_line(extra, left, 0.0)
    setter.glyphs = turned + setter.glyphs


def _extent(glyphs: list[Placed]) -> tuple[float, float, float, float]:
    boxes = [(g.h, g.w) if g.angle else (g.w, g.h) for g in glyphs]
    x0 = min(g.x - b[0] / 2 for g, b in zip(glyphs, boxes, strict=True))
    x1 = max(g.x + b[0] / 2 for g, b in zip(glyphs, boxes, strict=True))
    y0 = min(g.y - b[1] / 2 for g, b in zip(glyphs, boxes, strict=True))
    y1 = max(g.y + b[1] / 2 for g, b in zip(glyphs, boxes, strict=True))
    return x0, x1, y0, y1


def _squeeze(strip: Strip, room: tuple[float, float]) -> None:
    """Centre the stamp and shrink it to the room there is."""
    x0, x1, y0, y1 = _extent(strip.glyphs)
    k = min(1.0, room[0] / (x1 - x0), room[1] / (y1 - y0))
    for g in strip.glyphs:
        g.x, g.y = (g.x - (x0 + x1) / 2) * k, (g.y - (y0 + y1) / 2) * k
        g.cap, g.w, g.h = g.cap * k, g.w * k, g.h * k
        g.drawing = g.drawing.scaled(k) if g.drawing else None
    strip.length, strip.height = (x1 - x0) * k, (y1 - y0) * k
    strip.cap = min(g.cap for g in strip.glyphs if g.role in ("closed", "cross", "open"))


def _note_shown(strip: Strip, content: Content) -> None:
    roles = {g.role for g in strip.glyphs}
    strip.shown_marks = [m for m in content.marks if f"mark:{m}" in roles]
    strip.shown_extras = {k: v for k, v in content.extras.items() if f"extra:{k}" in roles}


def turned(strip: Strip) -> Strip:
    """The same stamp read from the other end of the spine."""
    for g in strip.glyphs:
        g.x, g.y, g.angle = -g.x, -g.y, g.angle + 180.0
    return strip
