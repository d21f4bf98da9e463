"""A reading in words: the sentences that stand in tables and under pictures."""

from __future__ import annotations

from stampreader.words import SLOTS, Figure, Slot, Stamp


def figure_words(slot: Slot, figure: Figure) -> str:
    """A figure in a few words.

    Example: `closed 27 kN, sure`; `open: not read` where nothing is proposed.
    """
    if figure.kN is None:
        return f"{slot.value}: not read" if figure.doubts else f"{slot.value}: none seen"
    return f"{slot.value} {figure.kN} kN, {figure.state.value}"


def doubt_words(figure: Figure) -> str:
    """The reasons a figure is in doubt, joined by semicolons; empty if there is none."""
    return "; ".join(doubt.value for doubt in figure.doubts)


def stamp_sentences(stamp: Stamp) -> list[str]:
    """One line a figure with its doubts, one for the marks, and the notes."""
    lines = []
    for slot in SLOTS:
        figure = stamp.figure(slot)
        why = doubt_words(figure)
        lines.append(figure_words(slot, figure) + (f" ({why})" if why else ""))
    if stamp.marks:
        lines.append("marks: " + ", ".join(mark.text for mark in stamp.marks))
    if stamp.serial:
        lines.append(f"serial: {stamp.serial}")
    return [*lines, *stamp.notes]
