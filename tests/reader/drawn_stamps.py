"""Stamps drawn for the tests of the Tesseract reader: print, with the three pictograms."""

import cv2
import numpy as np

INK = 40


def pictogram(ground, kind, x, y, height):
    """A connector outline lying along the line, with arrows at its ends or at its sides."""
    width = round(2.0 * height)
    pen = max(2, height // 12)
    middle, axes = (x + width // 2, y), (width // 2, height // 2)
    start, end = (-60, 240) if kind == "open" else (0, 360)
    cv2.ellipse(ground, middle, axes, 0, start, end, INK, pen, cv2.LINE_AA)
    reach, tip = height // 3, height // 5
    if kind == "cross":
        ends = [
            ((x + width // 2, y - height // 2 - reach - 4), (0, 1)),
            ((x + width // 2, y + height // 2 + reach + 4), (0, -1)),
        ]
    else:
        ends = [((x - reach - 4, y), (1, 0)), ((x + width + reach + 4, y), (-1, 0))]
    for (px, py), (dx, dy) in ends:
        triangle = [
            (px, py),
            (px + dx * tip - dy * tip, py + dy * tip + dx * tip),
            (px + dx * tip + dy * tip, py + dy * tip - dx * tip),
        ]
        cv2.fillConvexPoly(ground, np.array(triangle, np.int32), INK, cv2.LINE_AA)
    return x + width


def drawn_stamp(turn_deg=0.0):
    """A picture of 1600 × 1000: three figures each behind its pictogram, and marks below."""
    ground = np.full((1000, 1600), 190, np.uint8)
    x = 260
    for kind, figure in (("closed", "27kN"), ("cross", "8kN"), ("open", "7kN")):
        x = pictogram(ground, kind, x, 420, 44) + 34
        cv2.putText(ground, figure, (x, 440), cv2.FONT_HERSHEY_SIMPLEX, 1.9, INK, 4)
        x += cv2.getTextSize(figure, cv2.FONT_HERSHEY_SIMPLEX, 1.9, 4)[0][0] + 80
    cv2.putText(ground, "CE 9123", (260, 560), cv2.FONT_HERSHEY_SIMPLEX, 1.9, INK, 4)
    cv2.putText(ground, "EN 362", (600, 560), cv2.FONT_HERSHEY_SIMPLEX, 1.9, INK, 4)
    turn = cv2.getRotationMatrix2D((800, 500), -turn_deg, 1.0)
    return cv2.warpAffine(ground, turn, (1600, 1000), borderValue=190)
