"""Random stamps: what stands where, and which figure each glyph belongs to.

A stamp is laid out in units of the figures' cap height, x along the spine, y across it (upwards),
and given as flat lists: shapes to draw and glyphs to learn.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from stampreader.reader.alphabet import INDEX, ROLES
from stampreader.train import pictograms
from stampreader.train.pictograms import Shape
from stampreader.train.sheet import Hand, Sheet, choose_hand, put, write, write_logo

NONE, CLOSED, CROSS, OPEN, STRENGTH = range(len(ROLES))
WORDS = (  # noqa: SIM905 (a list of words reads better so)
    "KORVA BRENTO ALDUIN VESKO TARNIK OSTRAL MIRADO NORVEK FELSKA QUORUM STEELINE PEKTRA ZUNDAR "
    "HALVIK MAX MBS WLL MADE IN LOCK SCREW SPINE GATE LOT NO SN BATCH ALU STEEL 7075 INOX RESCUE "
    "WORK SPORT TECH TWIN PRO LITE AUTO OVAL HMS TOP USE ONLY READ INFO MAJOR MINOR AXIS"
).split()


def _number(rng: np.random.Generator, slot: int) -> str:
    if rng.random() < 0.35:
        low, high = {CLOSED: (15, 60), CROSS: (5, 22), OPEN: (4, 19)}.get(slot, (4, 60))
        text = str(int(rng.integers(low, high)))
    else:
        text = str(int(rng.integers(1, 100))) if slot in (CLOSED, STRENGTH) else str(
            int(rng.integers(1, 20) if rng.random() < 0.8 else rng.integers(1, 100))
        )  # fmt: skip
    if rng.random() < 0.24:
        text += rng.choice([".", ","]) + str(int(rng.integers(0, 10)))
    return text


USUAL_MARKS = 8
"""The first ways of `_mark`, those most connectors carry, are drawn oftener."""


def _mark(rng: np.random.Generator) -> str:
    d = lambda n: "".join(str(int(rng.integers(0, 10))) for _ in range(n))  # noqa: E731
    letter = lambda: str(rng.choice(list("ABHKMQTX")))  # noqa: E731
    year = rng.choice(["2004", "04", "2013", "1998", "13", "2022", d(4)])
    some = "".join(
        rng.choice(list("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"), int(rng.integers(1, 9)))
    )
    choices = [
        lambda: f"CE {d(4)}", lambda: f"CE{d(4)}", lambda: f"UKCA {d(4)}",
        lambda: f"EN 362:{year}/{letter()}", lambda: f"EN362:{year} {letter()}",
        lambda: f"EN {rng.choice(['362', '12275', '566', '12277', d(3), d(5)])}",
        lambda: f"EN 12275:{year}{rng.choice(['', ' ', '/', ' TYPE ', '-'])}{letter()}",
        lambda: "UIAA", lambda: f"UIAA {rng.choice(['121', '105', d(3)])}",
        lambda: f"NFPA {rng.choice(['1983', '2500', d(4)])} {rng.choice(['T', 'G', 'L', 'E', ''])}",
        lambda: f"NFPA 1983({d(4)}ED){rng.choice(['G', 'T'])}",
        lambda: f"MEETS NFPA 2500 ({d(4)} ED) {rng.choice(['G', 'T'])}",
        lambda: f"ANSI Z359.{d(2)}", lambda: f"ANSI/ASSP Z359.{d(2)}-{d(4)}",
        lambda: f"AS/NZS {d(4)}", lambda: f"ASTM F{d(4)}", lambda: f"CSA Z259.{d(2)}",
        lambda: f"{some}", lambda: f"SN {d(int(rng.integers(4, 9)))}", lambda: f"LOT {some}",
        lambda: f"{d(2)}/{d(2)}", lambda: f"{d(2)} {d(2)} {d(4)}", lambda: f"{d(4)}-{d(3)}",
        lambda: str(rng.choice(WORDS)), lambda: str(rng.choice(WORDS)).title(),
        lambda: f"{rng.choice(WORDS)} {rng.choice(WORDS)}",
        lambda: str(rng.choice(["3 sigma", "Made in", "not for climbing", "max. 100 kg", "Read instr.", "use: see"])),
        lambda: f"GATE {d(2)}kN", lambda: f"{d(4)} lbf", lambda: f"WLL {d(3)} kg", lambda: f"{d(4)} daN",
        lambda: f"{d(3)}kg", lambda: f"{d(int(rng.integers(1, 4)))} mm", lambda: d(int(rng.integers(1, 12))),
        lambda: some + " " + d(3),
    ]  # fmt: skip
    known = USUAL_MARKS if rng.random() < 0.35 else len(choices)
    return str(choices[int(rng.integers(known))]())


LOGO = 0.65
"""Share of CE marks drawn as the conformity mark, not in the face of the rest."""
STYLES = {"inline": 0.5, "column": 0.2, "rows": 0.12, "bare": 0.1, "slashes": 0.08}
"""Ways of setting the figures and how often each is drawn."""
LADDERS = 0.1
"""Share of stamps whose text runs across the spine."""
IN_LINE = {"inline": 0.7, "bare": 0.15, "slashes": 0.15}
"""The ways that keep to one line, for the line reader."""


def _strengths(
    sheet: Sheet,
    hand: Hand,
    x: float,
    y: float,
    rng: np.random.Generator,
    styles: dict[str, float] = STYLES,
) -> tuple[float, float]:
    """The block of strength figures; returns the x after it and how far down it reaches."""
    family = pictograms.family_of(rng) | {"ladder": float(sheet.ladder)}
    style = "rows" if sheet.ladder else rng.choice(list(styles), p=list(styles.values()))
    order = [CLOSED, CROSS, OPEN] if rng.random() < 0.72 else list(rng.permutation([1, 2, 3]))
    count = int(rng.choice([3, 2, 1], p=[0.78, 0.15, 0.07]))
    order = order[:count]
    arrows = rng.random() < 0.25
    unit_each, unit_end = (True, False) if rng.random() < 0.5 else (False, bool(rng.random() < 0.6))
    unit = str(rng.choice(["kN", "KN", "kN", " kN", "kn"], p=[0.5, 0.15, 0.1, 0.2, 0.05]))
    unit_size = 1.0 if rng.random() < 0.6 else rng.uniform(0.45, 0.9)
    gap = rng.uniform(0.12, 1.1)
    inner = rng.uniform(0.05, 0.5)
    before = rng.random() < 0.68
    size = rng.uniform(0.75, 1.25)

    def kind_of(slot: int) -> str:
        if slot == OPEN:
            return "<open>"
        if arrows:
            return "<along>" if slot == CLOSED else "<across>"
        return "<closed>" if slot == CLOSED else "<cross>"

    if style in ("bare", "slashes"):
        role = STRENGTH
        texts = [_number(rng, s) for s in order]
        joint = str(rng.choice(["/", "-", " / ", "  "])) if style == "slashes" else "  "
        for i, text in enumerate(texts):
            x = write(sheet, hand, text, x, y, 1.0, role, rng)
            if unit_each:
                x = write(sheet, hand, unit, x, y, unit_size, role, rng)
            if i < len(texts) - 1:
                x = write(sheet, hand, joint, x, y, 1.0, NONE, rng) + gap * 0.3
        if unit_end and not unit_each:
            x = write(sheet, hand, unit, x, y, unit_size, role, rng)
        return x, y
    if style == "rows":
        right = x
        step = rng.uniform(1.35, 2.1)
        for slot in order:
            at = x
            if before:
                at = put(sheet, kind_of(slot), at, y + 0.5, size * 0.9, slot, family, rng) + inner
            at = write(sheet, hand, _number(rng, slot), at, y, 1.0, slot, rng)
            if unit_each or unit_end:
                at = write(sheet, hand, unit, at, y, unit_size, slot, rng)
            if not before:
                at = put(sheet, kind_of(slot), at + inner, y + 0.5, size * 0.9, slot, family, rng)
            right, y = max(right, at), y - step
        return right, y + step
    if style == "column":
        above = rng.random() < 0.5
        lift = rng.uniform(0.15, 0.6) + 0.5 * size * max(family["size"], 1.0)
        for slot in order:
            start = x
            text = _number(rng, slot) + (unit if unit_each else "")
            x = write(sheet, hand, text, x, y, 1.0, slot, rng)
            probe = Sheet()
            wide = put(probe, kind_of(slot), 0, 0, size, slot, family, rng)
            left = (start + x) / 2 - wide / 2 + rng.normal(0, 0.08)
            put(
                sheet,
                kind_of(slot),
                left,
                y + (1 + lift if above else -lift),
                size,
                slot,
                family,
                rng,
            )
            x = max(x, left + wide) + gap
        return x, y - (0 if above else lift + 0.5 * size)
    separator = str(rng.choice(["", "", "", "-", "/", "·"]))
    for i, slot in enumerate(order):
        if before:
            x = put(sheet, kind_of(slot), x, y + 0.5, size, slot, family, rng) + inner
        x = write(sheet, hand, _number(rng, slot), x, y, 1.0, slot, rng)
        if unit_each or (unit_end and i == len(order) - 1):
            x = write(sheet, hand, unit, x, y, unit_size, slot, rng)
        if not before:
            x = put(sheet, kind_of(slot), x + inner, y + 0.5, size, slot, family, rng)
        x += gap
        if separator and i < len(order) - 1:
            x = write(sheet, hand, separator, x, y, 1.0, NONE, rng) + gap * 0.6
    return x, y


def _marks_run(
    sheet: Sheet, hand: Hand, x: float, y: float, size: float, count: int, rng: np.random.Generator
) -> float:
    for _ in range(count):
        if rng.random() < 0.12:
            shapes = pictograms.distractor(rng)
            grow = size * rng.uniform(0.8, 1.8)
            every = np.concatenate([s.points for s in shapes])
            wide = float(np.ptp(every[:, 0])) * grow
            at = np.array([x + wide / 2, y + size / 2])
            sheet.shapes += [Shape(s.points * grow + at, s.width * grow) for s in shapes]
            x += wide + 0.4 * size
        elif rng.random() < 0.1:  # a type letter in a ring
            letter = str(rng.choice(list("BHKXNLQAT")))
            a = np.linspace(0, 2 * math.pi, 33)
            centre = np.array([x + 0.8 * size, y + 0.5 * size])
            radius = rng.uniform(0.72, 0.95) * size
            sheet.shapes.append(
                Shape(
                    np.stack([np.cos(a), np.sin(a)], 1) * radius + centre,
                    rng.uniform(0.06, 0.14) * size,
                )
            )
            sheet.glyphs.append(
                (INDEX["<ring>"], centre[0], centre[1], 2 * radius, 2 * radius, NONE, 0.0)
            )
            probe = Sheet()
            wide = write(probe, hand, letter, 0, 0, size, NONE, rng) - hand.tracking * size
            write(sheet, hand, letter, centre[0] - wide / 2, y, size, NONE, rng)
            x += 2 * radius + 0.5 * size
        else:
            text = _mark(rng)
            if text.startswith("CE") and rng.random() < LOGO:
                x, text = write_logo(sheet, hand, x, y, size, NONE, rng), text[2:].strip()
            x = write(sheet, hand, text, x, y, size, NONE, rng) + rng.uniform(0.4, 1.5) * size
    return x


def random_sheet(rng: np.random.Generator, faces: dict[str, Any]) -> Sheet:
    """One random stamp. About one in ten carries no strength figure."""
    sheet = Sheet(ladder=bool(rng.random() < LADDERS))
    hand = choose_hand(rng, faces)
    if sheet.ladder:
        _strengths(sheet, hand, 0.0, 0.0, rng)
        if rng.random() < 0.4:
            lowest = min(g[2] for g in sheet.glyphs)
            _marks_run(sheet, hand, 0.0, lowest - rng.uniform(1.6, 3), rng.uniform(0.5, 1), 1, rng)
        return sheet
    other = hand if rng.random() < 0.6 else choose_hand(rng, faces)
    other_size = 1.0 if rng.random() < 0.4 else rng.uniform(0.55, 1.1)
    x = 0.0
    if rng.random() < 0.35:
        x = _marks_run(sheet, other, x, 0.0, other_size, int(rng.integers(1, 3)), rng)
    low = 0.0
    if rng.random() < 0.9:
        x, low = _strengths(sheet, hand, x + rng.uniform(0.2, 1), 0.0, rng)
    if rng.random() < 0.5:
        x = _marks_run(
            sheet, other, x + rng.uniform(0.2, 2), 0.0, other_size, int(rng.integers(1, 4)), rng
        )
    for side in (1, -1):
        if rng.random() < 0.3:
            y = (
                1.0 + rng.uniform(0.35, 1.2)
                if side > 0
                else low - rng.uniform(0.35, 1.2) - other_size
            )
            tops = [g[2] + g[3] / 2 for g in sheet.glyphs] or [1.0]
            bottoms = [g[2] - g[3] / 2 for g in sheet.glyphs] or [0.0]
            y = max(y, max(tops) + 0.25) if side > 0 else min(y, min(bottoms) - 0.25 - other_size)
            _marks_run(
                sheet,
                other,
                rng.uniform(-3, max(x * 0.5, 0.1)),
                y,
                other_size,
                int(rng.integers(1, 4)),
                rng,
            )
    return sheet


def random_line(rng: np.random.Generator, faces: dict[str, Any]) -> Sheet:
    """One line of a stamp, for the line reader: figures, marks or both on one baseline."""
    sheet = Sheet()
    hand = choose_hand(rng, faces)
    x = 0.0
    if rng.random() < 0.3:
        x = _marks_run(sheet, hand, x, 0.0, 1.0, 1, rng)
    if rng.random() < 0.75:
        x, _ = _strengths(sheet, hand, x, 0.0, rng, IN_LINE)
    if rng.random() < 0.4 or not sheet.glyphs:
        _marks_run(sheet, hand, x + rng.uniform(0.2, 1), 0.0, 1.0, int(rng.integers(1, 3)), rng)
    return sheet
