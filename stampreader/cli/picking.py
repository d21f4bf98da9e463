"""The work of `pick`: rules, the register's answer, margins, and the kit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, Decimal
from itertools import islice
from pathlib import Path

import typer

from stampreader.cli.common import emit_json, now, register_path, say
from stampreader.cli.fitness import candidate_of, known_uses, shipped_rules
from stampreader.errors import UsageError
from stampreader.fit import (
    Drawn,
    Gate,
    Need,
    Use,
    draw,
    find_use,
    gate_does,
    mark_does,
    shape_does,
    unfit,
)
from stampreader.margin import (
    ConnectorMargin,
    Strengths,
    Verdict,
    judge_connector,
    parse_ratio,
)
from stampreader.register import (
    EVERYWHERE,
    Connector,
    Demands,
    Intervals,
    Register,
    Settings,
    Shelf,
    candidates,
    find_connector,
    open_register,
    passed_over,
    read_intervals,
    read_settings,
    values_of,
)
from stampreader.units import Load, parse_load
from stampreader.words import SLOTS, Slot

MOST_PASSED = 2000
"""So many connectors are looked through for reasons why they do not qualify, unless all are."""
MOST_COUNT = 500


@dataclass(frozen=True, slots=True)
class Wish:
    """What was asked, as typed; see the options of `stampreader pick`."""

    uses: tuple[str, ...]
    ids: tuple[str, ...] = ()
    shelf: Shelf = EVERYWHERE
    load: str | None = None
    ratio: str | None = None
    limit: int = 200
    rules_file: Path | None = None
    files: tuple[Path, ...] = ()
    name: str = "Kit"
    paper: str = "a4"
    overwrite: bool = False


@dataclass(frozen=True, slots=True)
class Planned:
    """The load a kit is planned for, and what strength to load is asked."""

    load: Load | None
    ratio: Decimal
    person_kN: Decimal

    def margin(self, connector: Connector) -> ConnectorMargin | None:
        """The margins a connector leaves; `None` without a load."""
        if self.load is None:
            return None
        strengths = Strengths.from_kN(connector.closed_kN, connector.cross_kN, connector.open_kN)
        return judge_connector(connector.id, strengths, self.load.kN, self.ratio, self.person_kN)

    def least_closed(self) -> Decimal | None:
        """The smallest closed figure that keeps the ratio, rounded up to whole newtons."""
        if self.load is None:
            return None
        return (self.load.kN * self.ratio).quantize(Decimal("0.001"), rounding=ROUND_CEILING)

    def reasons(self, connector: Connector) -> Iterator[str]:
        """Why the closed figure does not keep the ratio under the load."""
        margin = self.margin(connector)
        closed = margin.slots[0] if margin else None
        if closed is None or closed.verdict is Verdict.ALLOWED:
            return
        if closed.margin is None:
            yield f"closed strength is not known; {self.ratio}:1 is asked under {self.load}"
        else:
            yield (
                f"closed {connector.closed_kN} kN is {closed.margin} times {self.load}; "
                f"{self.ratio}:1 is asked"
            )


@dataclass(frozen=True, slots=True)
class Answer:
    """What was found for one use.

    Attributes:
        use: the rule.
        fit: connectors that qualify, longest time to the next inspection first.
        unfit: those that do not, with every reason.
        more_fit: there are more that qualify than are listed.
        looked_at_all: every connector of the shelf was looked at for reasons.
    """

    use: Use
    fit: tuple[Connector, ...]
    unfit: tuple[tuple[Connector, tuple[str, ...]], ...]
    more_fit: bool = False
    looked_at_all: bool = True


@dataclass(frozen=True, slots=True)
class Picked:
    """Everything to show.

    Attributes:
        answers: one a use.
        needs: how many were asked for, by use; empty where only a list was.
        drawn: the kit.
        planned: load and ratio.
        intervals: for the next inspections.
        own_rules: where the team's own rules came from, empty if there are none.
    """

    answers: tuple[Answer, ...]
    needs: tuple[Need, ...]
    drawn: Drawn
    planned: Planned
    intervals: Intervals
    own_rules: str = ""

    def kit(self) -> Iterator[tuple[Use, Connector]]:
        """The connectors drawn, use by use."""
        for answer in self.answers:
            known = {connector.id: connector for connector in answer.fit}
            for id in self.drawn.chosen.get(answer.use.name, ()):
                yield answer.use, known[id]


def pick(wish: Wish, register: Path | None) -> Picked:
    """Look for what qualifies, draw the kit, and print its list where that was asked for.

    Raises:
        UsageError: no use, an unknown one, a count that is none, a file that exists.
        RulesError: the team's rules cannot be understood.
        RegisterError: the register cannot be read.
    """
    from stampreader.cli.pick_list import refuse_files, write_kit

    refuse_files(wish)
    path = register_path(register)
    uses, own_rules = known_uses(path, wish.rules_file)
    wanted = _typed_uses(wish.uses, uses)
    at = now()
    today = at.astimezone().date()
    with open_register(path, read_only=True) as book:
        settings, intervals = read_settings(book), read_intervals(book)
        planned = _planned(wish, settings)
        looking = _Looking(book, wish, planned, intervals, today)
        answers = tuple(looking.answer(use, count) for use, count in wanted)
        needs = tuple(Need(use.name, count) for use, count in wanted if count)
        drawn = draw(needs, {a.use.name: [c.id for c in a.fit] for a in answers})
        picked = Picked(answers, needs, drawn, planned, intervals, own_rules)
        if wish.files:
            write_kit(picked, wish, book, settings, at)
    return picked


def _typed_uses(texts: Sequence[str], uses: Mapping[str, Use]) -> list[tuple[Use, int]]:
    if not texts:
        raise UsageError("no use is named", remedy=f"Give --use: {', '.join(uses)}.")
    counted: dict[str, int] = {}
    for text in texts:
        name, colon, count = text.partition(":")
        use = find_use(uses, name)
        counted[use.name] = counted.get(use.name, 0) + (_count(count, text) if colon else 0)
    return [(uses[name], count) for name, count in counted.items()]


def _count(text: str, whole: str) -> int:
    digits = text.strip()
    if not (digits.isascii() and digits.isdigit() and 1 <= int(digits) <= MOST_COUNT):
        raise UsageError(
            f"'{whole}' has no count", remedy=f"Write life-support:6, at most {MOST_COUNT}."
        )
    return int(digits)


def _planned(wish: Wish, settings: Settings) -> Planned:
    ratio = parse_ratio(wish.ratio) if wish.ratio is not None else settings.ratio
    load = parse_load(wish.load, settings.person_kN) if wish.load is not None else None
    return Planned(load, ratio, settings.person_kN)


@dataclass(frozen=True, slots=True)
class _Looking:
    """Looking through the register for one wish."""

    book: Register
    wish: Wish
    planned: Planned
    intervals: Intervals
    today: date

    def answer(self, use: Use, count: int) -> Answer:
        """What qualifies for a use, and what does not."""
        if self.wish.ids:
            return self._of_named(use)
        most = max(self.wish.limit, count) if self.wish.limit else 0
        found = (c for c in self._offered(use) if not self._reasons(c, use))
        fit = tuple(islice(found, most + 1 if most else None))
        more = bool(most) and len(fit) > most
        unfit_, all_seen = self._passed_over(use)
        return Answer(use, fit[:most] if more else fit, unfit_, more, all_seen)

    def _reasons(self, connector: Connector, use: Use) -> tuple[str, ...]:
        candidate = candidate_of(connector, self.intervals, self.today)
        return (*unfit(candidate, use), *self.planned.reasons(connector))

    def _of_named(self, use: Use) -> Answer:
        named = [find_connector(self.book, id) for id in dict.fromkeys(self.wish.ids)]
        judged = [(connector, self._reasons(connector, use)) for connector in named]
        return Answer(
            use,
            tuple(connector for connector, reasons in judged if not reasons),
            tuple((connector, reasons) for connector, reasons in judged if reasons),
        )

    def _offered(self, use: Use) -> Iterator[Connector]:
        demands = demands_of(self.book, use, self.planned.least_closed())
        return candidates(self.book, demands, self.wish.shelf, self.intervals, self.today)

    def _passed_over(self, use: Use) -> tuple[tuple[tuple[Connector, tuple[str, ...]], ...], bool]:
        most = MOST_PASSED if self.wish.limit else 0
        seen = 0
        failed: list[tuple[Connector, tuple[str, ...]]] = []
        for connector in passed_over(self.book, self.wish.shelf, most=most):
            seen += 1
            reasons = self._reasons(connector, use)
            if reasons:
                failed.append((connector, reasons))
                if len(failed) == self.wish.limit:
                    return tuple(failed), False
        return tuple(failed), seen < most or not most


def demands_of(book: Register, use: Use, least_closed: Decimal | None) -> Demands:
    """A rule as the register's indexes can answer it; the rule itself has the last word."""
    marks = values_of(book, "mark") if use.one_of or use.all_of or use.shapes else []
    groups = [use.one_of] if use.one_of else []
    groups += [(rule,) for rule in use.all_of]
    least = max(least_closed or Decimal(0), use.least.get(Slot.CLOSED, Decimal(0)))
    return Demands(
        gates=None
        if use.gate is Gate.ANY
        else [g for g in values_of(book, "gate") if gate_does(g, use)],
        shapes=[s for s in values_of(book, "shape") if shape_does(s, use)] if use.shapes else None,
        instead_of_shape=_stamped(marks, use.instead_of_shape),
        marks=[_stamped(marks, group) for group in groups],
        least_N=int((least * 1000).to_integral_value(ROUND_CEILING)),
    )


def _stamped(marks: Sequence[str], rules: Sequence[str]) -> list[str]:
    return [mark for mark in marks if any(mark_does(rule, mark) for rule in rules)]


def show_rules(register: Path | None, given: Path | None, *, as_json: bool) -> None:
    """The shipped rules as a file to begin one's own with, or as JSON all that are in force."""
    uses, own = known_uses(register_path(register), given)
    if as_json:
        emit_json(_rule_json(use) for use in uses.values())
        return
    typer.echo(shipped_rules(), nl=False)
    if own:
        say(f"In force are these and, in place of those of the same name, the team's in {own}.")


def asked_of(use: Use) -> str:
    """What a rule asks, in one line."""
    asked = [f"a {use.gate} gate"] if use.gate != "any" else []
    if use.shapes:
        shapes = " or ".join(use.shapes)
        also = f" (or marked {' or '.join(use.instead_of_shape)})" if use.instead_of_shape else ""
        asked.append(f"shape {shapes}{also}")
    if use.one_of:
        asked.append(f"marked {' or '.join(use.one_of)}")
    asked += [f"marked {mark}" for mark in use.all_of]
    asked += [f"{slot} {use.least[slot]} kN or more" for slot in SLOTS if slot in use.least]
    if use.third_party:
        asked.append("a third-party mark")
    return ", ".join([*asked, "in service, not quarantined, not overdue"])


def _rule_json(use: Use) -> dict[str, object]:
    return {
        "use": use.name,
        "title": use.title,
        "because": use.because,
        "gate": str(use.gate),
        "shape": use.shapes,
        "instead-of-shape": use.instead_of_shape,
        "one-of": use.one_of,
        "all-of": use.all_of,
        "least": {str(slot): value for slot, value in use.least.items()},
        "third-party": use.third_party,
    }
