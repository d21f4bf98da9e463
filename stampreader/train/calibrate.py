"""Choose the threshold of `sure` so that the promise holds, and write it into `card.json`.

    python -m stampreader.train.calibrate FEATURES.json [--card stampreader/reader/card.json]

FEATURES.json is a list with an object a connector of photos that trained nothing: `figures`, a
list of `{"score": 0..1, "glyph": 0..1, "right": true}`, one for each figure that all named doubts
left free to be sure (`figures.features`, compared with the truth). `--check` leaves the threshold as it
is and counts how it does on further photos, which no threshold was chosen on: these can show the promise later,
or take it back. How many are read is settled beforehand: checking until it fits proves nothing. `--temperature` writes the temperature first; the features then have to be taken again, for the scores change with it. Learn then Test (Angelopoulos
et al., Learn then test, 2021, fixed-sequence testing): the hypothesis that sure is wrong more
often than α at threshold λ has the p-value p = P(Bin(n, α) ≤ errors); walk from the strictest λ
down and stop before the first p > δ. The unit is the connector.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from stampreader.figures.bound import DELTA, PROMISE, binomial_cdf, trials_needed, upper_bound

CARD = Path(__file__).parent.parent / "reader" / "card.json"
STEPS = tuple(k / 200 for k in range(199, 99, -1))
"""Thresholds from the strictest down, fixed before the photos are looked at."""
Connector = Sequence[Mapping[str, Any]]


@dataclass(frozen=True)
class Choice:
    """What was chosen, and what it rests on."""

    sure_at: float
    connectors: int
    errors: int
    bound: float
    certified: bool
    alpha: float = PROMISE
    delta: float = DELTA


def accepted(connectors: Sequence[Connector], least: float) -> tuple[int, int]:
    """(connectors with a figure at or above the threshold, those with a wrong one among these)."""
    kept = [[f for f in own if f["score"] >= least] for own in connectors]
    return sum(map(bool, kept)), sum(any(not f["right"] for f in own) for own in kept)


def learn_then_test(
    connectors: Sequence[Connector], alpha: float = PROMISE, delta: float = DELTA
) -> Choice:
    """The least threshold that keeps P(wrong | sure) ≤ alpha at a confidence of 1 - delta.

    The walk begins at the strictest threshold that enough connectors reach to show anything: that
    number does not depend on what is right. If the promise cannot be shown, the threshold with the
    least bound is taken; being chosen by what is right, that bound describes and proves nothing.
    """
    fewest = trials_needed(0, alpha, delta)
    chosen: Choice | None = None
    for least in STEPS:
        n, errors = accepted(connectors, least)
        if n < fewest:
            continue
        if binomial_cdf(errors, n, alpha) > delta:
            break
        chosen = Choice(least, n, errors, upper_bound(errors, n, delta), True, alpha, delta)
    return chosen or _uncertified(connectors, alpha, delta)


def _uncertified(connectors: Sequence[Connector], alpha: float, delta: float) -> Choice:
    def bound(least: float) -> float:
        n, errors = accepted(connectors, least)
        return upper_bound(errors, n, delta)

    least = min(STEPS, key=bound)
    return Choice(least, *accepted(connectors, least), bound(least), False, alpha, delta)


def best_temperature(connectors: Sequence[Connector]) -> float:
    """The temperature at which the glyph probabilities have the least negative log likelihood.

    Source: Guo et al., On calibration of modern neural networks, 2017, section 4.2. Each figure
    counts with its weakest glyph, as one class against the rest; searched from 0.25 to 8 in steps
    of 2 %.
    """
    pairs = [(float(f["glyph"]), bool(f["right"])) for own in connectors for f in own]
    temperatures = [0.25 * 1.02**k for k in range(176)]
    return min(temperatures, key=lambda t: negative_log_likelihood(pairs, t))


def negative_log_likelihood(pairs: Sequence[tuple[float, bool]], temperature: float) -> float:
    """Mean of −log q(right), q the tempered probability."""
    total = 0.0
    for p, right in pairs:
        p = min(max(p, 1e-6), 1 - 1e-6)
        logit = (math.log(p) - math.log1p(-p)) / temperature
        total += math.log1p(math.exp(-logit if right else logit))
    return total / max(len(pairs), 1)


def with_threshold(card: Mapping[str, Any], choice: Choice) -> dict[str, Any]:
    """The card with the threshold, what it rests on, and what that promises in words."""
    caps = {**card.get("caps", {}), "sure_at": choice.sure_at, "calibrated": True}
    promise = {"certified": choice.certified, "text": in_words(choice)}
    calibration = {**asdict(choice), "unit": "connector"}
    return {**card, "caps": caps, "promise": promise, "calibration": calibration}


def in_words(choice: Choice, checks: str = "") -> str:
    """What the calibration, and a sentence on its checks, show and what they do not."""
    shown = "is shown" if choice.certified else "is not shown"
    return (
        f"Of {choice.connectors} rendered connectors with a figure sure at {choice.sure_at:g}, "
        f"{choice.errors} had a wrong one: no more than {100 * choice.bound:.2g} % at "
        f"{100 * (1 - choice.delta):g} % confidence.{checks} The promise of {100 * choice.alpha:g} % "
        f"{shown}. Rendered photos certify nothing about every phone and every connector: "
        "a person confirms."
    )


def checked(card: Mapping[str, Any], connectors: Sequence[Connector]) -> dict[str, Any]:
    """The card with one more check of its threshold, on photos it was not chosen on.

    A promise shown by the calibration stands while calibration and checks together keep it; one
    not shown there can be shown by the checks alone.
    """
    calibration = dict(card["calibration"])
    alpha, delta = calibration["alpha"], calibration["delta"]
    n, errors = accepted(connectors, calibration["sure_at"])
    checks = [*calibration.get("checks", ()), {"connectors": n, "errors": errors}]
    whole, wrong = (sum(check[name] for check in checks) for name in ("connectors", "errors"))
    bound = upper_bound(wrong, whole, delta)
    calibration |= {"checks": checks, "checked_bound": bound}
    first = Choice(**{name: calibration[name] for name in Choice.__dataclass_fields__})
    own = (first.connectors, first.errors) if first.certified else (0, 0)
    shown = binomial_cdf(wrong + own[1], whole + own[0], alpha) <= delta
    said = in_words(
        replace(first, certified=shown),
        f" Of {whole} others, read when the threshold was fixed, {wrong} had a wrong one: no more "
        f"than {100 * bound:.2g} %.",
    )
    return {**card, "promise": {"certified": shown, "text": said}, "calibration": calibration}


def with_temperature(card: Mapping[str, Any], connectors: Sequence[Connector]) -> dict[str, Any]:
    """The card with another temperature; no threshold is calibrated for it yet."""
    caps = dict(card.get("caps", {}))
    found = caps.get("temperature", 1.0) * best_temperature(connectors)
    caps |= {"temperature": round(found, 3), "calibrated": False}
    gone = ("calibration", "promise")
    return {**{k: v for k, v in card.items() if k not in gone}, "caps": caps}


def main(arguments: Sequence[str] | None = None) -> int:
    """Read the figures, choose, write the card; 1 if the promise could not be shown."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("features", type=Path)
    parser.add_argument("--card", type=Path, default=CARD)
    parser.add_argument("--temperature", action="store_true", help="write only the temperature")
    parser.add_argument("--check", action="store_true", help="count at the threshold there is")
    given = parser.parse_args(arguments)
    connectors = [row["figures"] for row in json.loads(given.features.read_text("utf-8"))]
    card = json.loads(given.card.read_text("utf-8"))
    if given.temperature:
        card = with_temperature(card, connectors)
        _write(given.card, card)
        print(f"temperature {card['caps']['temperature']}; now take the features again and choose")
        return 0
    if given.check:
        card = checked(card, connectors)
        _write(given.card, card)
        print(card["promise"]["text"])
        return int(not card["promise"]["certified"])
    choice = learn_then_test(connectors)
    _write(given.card, with_threshold(card, choice))
    print(
        f"sure_at {choice.sure_at}: {choice.connectors} connectors, {choice.errors} wrong; wrong "
        f"on no more than {100 * choice.bound:.2f} % at {100 * (1 - choice.delta):.0f} %"
    )
    if not choice.certified:
        print(
            f"The promise of {100 * choice.alpha:g} % is NOT shown; it takes "
            f"{trials_needed(0)} connectors without a wrong one, or more with some."
        )
    return int(not choice.certified)


def _write(path: Path, card: Mapping[str, Any]) -> None:
    path.write_text(json.dumps(card, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    sys.exit(main())
