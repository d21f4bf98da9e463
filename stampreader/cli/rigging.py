"""What `stampreader rig` was asked: the plan, the register behind its ids, and the answers."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from stampreader.cli.common import now, register_path
from stampreader.errors import PlanError, UnknownConnector, UsageError
from stampreader.margin import parse_ratio
from stampreader.rig import (
    Filled,
    KitLine,
    Known,
    Plan,
    Sharing,
    Source,
    Varied,
    Way,
    WhatIf,
    Worked,
    explain,
    fill,
    kit_list,
    plan_of,
    put_in,
    vary,
    what_if,
    work_out,
)

if TYPE_CHECKING:
    from stampreader.register import Register, Settings

MOST_BYTES = 200_000
PICTURES = (".svg", ".png", ".pdf")

Build = Callable[[Source], Plan]


@dataclass(frozen=True, slots=True)
class Wish:
    """The options of the command, as typed."""

    ratio: str | None = None
    way: str | None = None
    one_leg: bool = False
    what_if: bool = False
    vary: tuple[str, ...] = ()
    explain: bool = False
    kit: bool = False
    picture: Path | None = None
    fill: bool = False
    rules_file: Path | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """Everything to show of a plan.

    Attributes:
        estimated: the rig under the peak of its fall, if the plan has one; an estimate.
        mishaps, varied, kit, working: where asked for.
        filled: connectors chosen for the open places, where asked for.
    """

    worked: Worked
    estimated: Worked | None = None
    mishaps: WhatIf | None = None
    varied: tuple[Varied, ...] = ()
    kit: tuple[KitLine, ...] = ()
    working: tuple[str, ...] = ()
    filled: Filled | None = None


def ask(path: Path | None, wish: Wish, register: Path | None) -> Answer:
    """Read a plan, work it out, and draw it where a picture was asked for.

    Raises:
        UsageError: no plan, an option that is not understood.
        PlanError: the plan cannot be read or worked out.
        RegisterError: the plan names ids and the register cannot be read.
    """
    if path is None:
        raise UsageError("no plan is named", remedy="Give PLAN.toml, or begin with --new two-leg.")
    if wish.picture is not None and wish.picture.suffix.lower() not in PICTURES:
        raise UsageError(
            f"a picture cannot be written as '{wish.picture.suffix}'",
            remedy="Let its name end in .svg, .png or .pdf.",
        )
    with ExitStack() as stack:
        book = _Book(stack, register)
        source = Source(_text_of(path), path.name)
        settings = book.settings
        if settings is not None:
            source.person_kN = settings.person_kN
        ratio = None if settings is None else settings.ratio

        def build(tables: Source) -> Plan:
            return _asked(plan_of(tables, book.find, ratio, _way(wish)), wish)

        worked = work_out(build(source))
        filled = _fill(worked, wish, book) if wish.fill else None
        if filled is None:
            answer = _answer(source, worked, wish, build)
        else:
            chosen = filled.chosen
            answer = _answer(
                source, work_out(filled.plan), wish, lambda tables: put_in(build(tables), chosen)
            )
            answer = replace(answer, filled=filled)
    if wish.picture is not None:
        from stampreader.cli.rig_picture import write_picture

        write_picture(answer.worked, wish.picture, now())
    return answer


def _fill(worked: Worked, wish: Wish, book: _Book) -> Filled:
    """Connectors of the register for the open places, by the rules of their uses."""
    from stampreader.cli.rig_fill import offers_of

    offers = offers_of(book.register, wish.rules_file, now().astimezone().date())
    return fill(worked, offers)


def _answer(source: Source, worked: Worked, wish: Wish, build: Build) -> Answer:
    return Answer(
        worked=worked,
        estimated=work_out(worked.estimate.plan) if worked.estimate else None,
        mishaps=what_if(worked) if wish.what_if else None,
        varied=tuple(vary(source, text, build) for text in wish.vary),
        kit=kit_list(worked) if wish.kit else (),
        working=explain(worked) if wish.explain else (),
    )


def _asked(plan: Plan, wish: Wish) -> Plan:
    """The plan with the ratio and sharing of the options instead of its own."""
    if wish.ratio is not None:
        plan = replace(plan, ratio=parse_ratio(wish.ratio), assumptions=_without_ratio(plan))
    if wish.one_leg:
        anchors = tuple(replace(anchor, sharing=Sharing.ONE_LEG) for anchor in plan.anchors)
        plan = replace(plan, anchors=anchors)
    return plan


def _without_ratio(plan: Plan) -> tuple[str, ...]:
    return tuple(text for text in plan.assumptions if not text.startswith("ratio "))


def _way(wish: Wish) -> Way | None:
    if wish.way is None:
        return None
    try:
        return Way(wish.way.strip().lower())
    except ValueError as error:
        raise UsageError(
            f"'{wish.way}' is no way for ropes to move",
            remedy="Use --way raising, lowering or holding.",
        ) from error


def _text_of(path: Path) -> str:
    """The text of a plan's file."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise PlanError(
                f"{path} is over {MOST_BYTES // 1000} kB, too long for a plan",
                remedy="Check that this is the right file.",
            )
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise PlanError(f"{path} is not text in UTF-8", remedy="Save it as UTF-8.") from error
    except FileNotFoundError as error:
        raise PlanError(
            f"there is no file {path}", remedy="Begin with: stampreader rig --new two-leg FILE"
        ) from error
    except OSError as error:
        raise PlanError(f"{path} cannot be read: {error.strerror}") from error


class _Book:
    """The register, opened only where there is one or the plan names an id.

    It is loaded only then: a plan of bare figures needs neither.
    """

    def __init__(self, stack: ExitStack, given: Path | None) -> None:
        self._stack = stack
        self._path = register_path(given)
        self._there = given is not None or self._path.exists()
        self._register: Register | None = None
        self._settings: Settings | None = None
        self._known: dict[str, Known | None] = {}

    @property
    def register(self) -> Register:
        """The open register; it is only read."""
        if self._register is None:
            from stampreader.register import open_register

            self._register = self._stack.enter_context(open_register(self._path, read_only=True))
        return self._register

    @property
    def settings(self) -> Settings | None:
        """The team's settings; nothing where there is no register yet."""
        if self._settings is None and self._there:
            from stampreader.register import read_settings

            self._settings = read_settings(self.register)
        return self._settings

    def find(self, id: str) -> Known | None:
        """A connector of the register by its id, looked up once."""
        if id not in self._known:
            self._known[id] = self._look_up(id)
        return self._known[id]

    def _look_up(self, id: str) -> Known | None:
        from stampreader.cli.rig_known import known_of
        from stampreader.register import find_connector, read_intervals

        try:
            connector = find_connector(self.register, id)
        except UnknownConnector:
            return None
        return known_of(connector, read_intervals(self.register), now().astimezone().date())
