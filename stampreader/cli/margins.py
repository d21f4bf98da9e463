"""What `stampreader margin` was asked: figures from the register or typed, and the settings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path

from stampreader.cli.common import register_path, say
from stampreader.cli.fitness import bars_of, remarks_of
from stampreader.errors import UnknownConnector, UsageError
from stampreader.margin import (
    ConnectorMargin,
    Strengths,
    Verdict,
    judge_connector,
    parse_figures,
    parse_ratio,
    weakest_first,
)
from stampreader.register import (
    Connector,
    Settings,
    find_connector,
    open_register,
    read_intervals,
    read_settings,
)
from stampreader.units import Load, parse_load, parse_person
from stampreader.words import SLOTS, Slot


@dataclass(frozen=True, slots=True)
class Answer:
    """Margins to show.

    Attributes:
        load: the load as given.
        ratio: strength to load asked for.
        is_set: the ratio was not given and stands in the settings, or is the usual value.
        person_kN: load of one person with kit.
        judged: directions that decide the exit status.
        connectors: margins, weakest first.
        bars: for a connector's name, why it is not to be used whatever its margin.
        remarks: for a connector's name, what is to be told of it, such as no third-party mark.
        refused: ids that could not be worked out, each with its reason.
    """

    load: Load
    ratio: Decimal
    is_set: bool
    person_kN: Decimal
    judged: tuple[Slot, ...]
    connectors: tuple[ConnectorMargin, ...]
    bars: dict[str, str]
    remarks: dict[str, tuple[str, ...]]
    refused: tuple[str, ...]

    @property
    def holds(self) -> bool:
        """Whether every connector was worked out, may be used, and keeps the ratio as judged."""
        verdicts = {
            row.verdict for c in self.connectors for row in c.slots if row.slot in self.judged
        }
        return not self.refused and not self.bars and verdicts == {Verdict.ALLOWED}


def ask(
    ids: Sequence[str],
    figures: Sequence[str],
    load: str,
    ratio: str | None,
    person: str | None,
    directions: Sequence[Slot],
    register: Path | None,
) -> Answer:
    """Work out the margins of connectors by id and of figures as typed.

    Raises:
        UsageError: neither id nor figures, or a load, ratio or figure that is not understood.
        RegisterError: the register cannot be read.
    """
    if not ids and not figures:
        raise UsageError(
            "no connector is named",
            remedy="Give ids of the register, or figures such as --figures 27/8/7.",
        )
    typed = {text.strip(): parse_figures(text) for text in figures}
    settings, known, bars, refused = _from_register(ids, register)
    ratio_asked = parse_ratio(ratio) if ratio is not None else settings.ratio
    person_kN = parse_person(person) if person is not None else settings.person_kN
    force = parse_load(load, person_kN)
    slots = tuple(slot for slot in SLOTS if slot in directions) or SLOTS
    strengths = {**typed, **{c.id: _strengths(c) for c in known}}
    judged = [
        judge_connector(name, s, force.kN, ratio_asked, person_kN, slots)
        for name, s in strengths.items()
    ]
    return Answer(
        load=force,
        ratio=ratio_asked,
        is_set=ratio is None,
        person_kN=person_kN,
        judged=slots if directions else (Slot.CLOSED,),
        connectors=weakest_first(judged),
        bars=bars,
        remarks={c.id: remarks_of(c) for c in known},
        refused=refused,
    )


def _strengths(connector: Connector) -> Strengths:
    """The confirmed figures of a registered connector."""
    return Strengths.from_kN(connector.closed_kN, connector.cross_kN, connector.open_kN)


def _from_register(
    ids: Sequence[str], given: Path | None
) -> tuple[Settings, list[Connector], dict[str, str], tuple[str, ...]]:
    """Settings, connectors, what bars them; an unknown id is told. No register is made."""
    path = register_path(given)
    if not ids and given is None and not path.exists():
        return Settings(), [], {}, ()
    known: list[Connector] = []
    refused: list[str] = []
    with open_register(path, read_only=True) as register:
        for id in dict.fromkeys(ids):
            try:
                known.append(find_connector(register, id))
            except UnknownConnector as error:
                refused.append(id)
                say(f"stampreader: {error.line()}")
        intervals, today = read_intervals(register), date.today()
        found = {c.id: bars_of(c, intervals, today, for_a_margin=True) for c in known}
        bars = {id: "; ".join(own) for id, own in found.items() if own}
        return read_settings(register), known, bars, tuple(refused)
