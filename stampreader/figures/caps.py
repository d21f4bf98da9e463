"""All thresholds of judging in one table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from decimal import Decimal
from typing import Any


@dataclass(frozen=True, slots=True)
class Caps:
    """Thresholds of judging. The defaults are cautious guesses; calibrated ones come with a reader.

    Attributes:
        temperature: divides the logits of the first reader's glyph probabilities; 1 leaves them.
        sure_at: least score of a figure that may be sure.
        ask_at: least score of a figure that is proposed at all.
        glyph_at: least tempered probability of each glyph of a sure figure.
        link_at: least probability of the slot of a sure figure.
        direction_at: least evidence, in nats, for the direction of a sure figure.
        letters_at: least part of it from characters that look like nothing upside down.
        min_glyph_px: least height of a capital, in pixels, of a sure figure.
        lowest_kN, highest_kN: range of strengths on connectors (common practice, no source).
        readers_at: how many other readers must agree.
        weak_readers: names of readers whose different digits count only if no other reader agrees,
            and whose glyphs never change a proposal.
        calibrated: whether the numbers were measured for this reader.
    """

    temperature: float = 1.0
    sure_at: float = 0.80
    ask_at: float = 0.20
    glyph_at: float = 0.80
    link_at: float = 0.90
    direction_at: float = 4.0
    letters_at: float = 2.0
    min_glyph_px: float = 9.0
    lowest_kN: float = 2.0
    highest_kN: float = 75.0
    readers_at: int = 1
    weak_readers: tuple[str, ...] = ("tesseract",)
    calibrated: bool = True

    @classmethod
    def from_mapping(cls, values: Mapping[str, Any]) -> Caps:
        """Caps from a reader's card; names it does not know are left out, others keep defaults.

        Raises:
            ValueError: a value is no number.
        """
        kinds = {"float": float, "int": int, "bool": bool, "tuple[str, ...]": tuple}
        known = {f.name: kinds[str(f.type)] for f in fields(cls)}
        return cls(**{name: known[name](v) for name, v in values.items() if name in known})

    def in_range(self, kN: Decimal) -> bool:
        """Whether connectors are stamped with such a strength."""
        return self.lowest_kN <= float(kN) <= self.highest_kN


def tempered(confidence: float, others: tuple[tuple[str, float], ...], temperature: float) -> float:
    """A probability softened by temperature scaling, q = softmax(log p / T).

    Source: Guo et al., On calibration of modern neural networks, 2017, section 4.2. What the
    listed alternatives leave of 1 counts as one more class.

    Example: 0.9 against one other of 0.1 at T = 2 is 0.75.
    """
    if confidence <= 0.0:
        return 0.0
    listed = sum(p for _, p in others)
    rest = max(1.0 - confidence - listed, 0.0)
    weights = [p ** (1.0 / temperature) for p in (*(p for _, p in others), rest) if p > 0.0]
    own = min(confidence, 1.0) ** (1.0 / temperature)
    return float(own / (own + sum(weights)))
