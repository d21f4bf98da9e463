"""The words and the drawing of `capture-guide`."""

from __future__ import annotations

import math
from pathlib import Path

from stampreader.cli.pictures import write_picture
from stampreader.errors import UsageError

STEPS = (
    "Wipe the face clean; leave what is in the grooves. Change nothing else.",
    "Lay the connector down with the stamped face up, on something that does not slide.",
    "Rest the phone on a stack of books or a stand, straight above the face and as near as it\n"
    "   still focuses. Tap on the face, so that it is sharp and not white. No flash.",
    "Darken the room. Hold a small lamp or a torch an arm's length away and low, so that its\n"
    "   light only just grazes the face (10 to 30 degrees above it).",
    "Take a shot; move only the lamp an eighth of the way round; take the next. Eight shots go\n"
    "   once round. Three are the least, twelve the most that are used.",
    "If the lamp cannot be moved, turn phone and connector together under it.",
    "Then: stampreader read --relief SHOT... --picture face.jpg",
)

DRAWING = """\
   seen from above                       seen from the side

             1                               [ phone ]
       8     |     2                             |
         \\   v   /                               |          lamp
   7 --> [the face] <-- 3                        v       .*'
         /   ^   \\                          ______________'  10 to 30 degrees
       6     |     4                         [ connector ]
             5                             ------------------- bench
"""

SHOTS = 8
SIZE = (760, 360)


def guide_text() -> str:
    """Steps and drawing for the terminal."""
    steps = "\n".join(f"{number}. {step}" for number, step in enumerate(STEPS, 1))
    return (
        "Reading a stamp that looks blank: shots of one face, the lamp moved round between them.\n"
        f"\n{DRAWING}\n{steps}\n\n"
        "A mark that no shot shows cannot be read. What is read is a proposal to look at, and a\n"
        "connector whose marks are gone is for a competent person to judge."
    )


def drawing_svg() -> str:
    """The drawing as an SVG file: the lamp's places from above, and its height from the side."""
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {SIZE[0]} {SIZE[1]}" '
            'font-family="sans-serif" font-size="15">',
            "<title>How to photograph a worn stamp with the lamp moved</title>",
            f'<rect width="{SIZE[0]}" height="{SIZE[1]}" fill="white"/>',
            *_from_above((190, 190), 130),
            *_from_the_side(400),
            "</svg>\n",
        )
    )


def _from_above(middle: tuple[int, int], reach: int) -> list[str]:
    x, y = middle
    parts = [
        f'<text x="{x}" y="24" text-anchor="middle">seen from above</text>',
        f'<rect x="{x - 62}" y="{y - 16}" width="124" height="32" rx="16" fill="#dddddd" '
        'stroke="black"/>',
        f'<text x="{x}" y="{y + 5}" text-anchor="middle">the face</text>',
    ]
    for number in range(SHOTS):
        turn = 2 * math.pi * number / SHOTS - math.pi / 2
        cos, sin = math.cos(turn), math.sin(turn)
        far, near = (x + reach * cos, y + reach * sin), (x + 84 * cos, y + 54 * sin)
        parts += [
            f'<line x1="{far[0]:.0f}" y1="{far[1]:.0f}" x2="{near[0]:.0f}" y2="{near[1]:.0f}" '
            'stroke="#c77700" stroke-width="2" stroke-dasharray="6 5"/>',
            f'<circle cx="{far[0]:.0f}" cy="{far[1]:.0f}" r="14" fill="#ffd27f" stroke="black"/>',
            f'<text x="{far[0]:.0f}" y="{far[1] + 5:.0f}" text-anchor="middle">{number + 1}</text>',
        ]
    return parts


def _from_the_side(left: int) -> list[str]:
    return [
        f'<text x="{left + 160}" y="24" text-anchor="middle">seen from the side</text>',
        f'<rect x="{left + 60}" y="60" width="120" height="16" fill="#555555"/>',
        f'<text x="{left + 190}" y="74">phone, resting</text>',
        f'<line x1="{left + 120}" y1="80" x2="{left + 120}" y2="262" stroke="#555555" '
        'stroke-dasharray="3 6"/>',
        f'<rect x="{left + 55}" y="268" width="130" height="22" rx="11" fill="#dddddd" '
        'stroke="black"/>',
        f'<line x1="{left}" y1="292" x2="{left + 340}" y2="292" stroke="black" stroke-width="3"/>',
        f'<line x1="{left + 300}" y1="208" x2="{left + 140}" y2="266" stroke="#c77700" '
        'stroke-width="2" stroke-dasharray="6 5"/>',
        f'<circle cx="{left + 300}" cy="208" r="14" fill="#ffd27f" stroke="black"/>',
        f'<text x="{left + 300}" y="184" text-anchor="middle">lamp, low</text>',
        f'<text x="{left + 206}" y="284">10 to 30°</text>',
        f'<text x="{left}" y="330">Move only the lamp. One shot at each place.</text>',
    ]


def write_drawing(picture: Path) -> None:
    """Write the drawing.

    Raises:
        UsageError: another ending than .svg, or the place cannot be written.
    """
    if picture.suffix.lower() != ".svg":
        raise UsageError(f"the drawing cannot be written as {picture.name}", remedy="Name it .svg.")
    write_picture(picture, drawing_svg().encode())
