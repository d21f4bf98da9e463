"""Small plans for the tests of the rig room."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from stampreader.rig import Plan, Worked, read_plan, work_out

Read = Callable[..., Plan]


@pytest.fixture
def read() -> Read:
    """Reads a plan from TOML text."""

    def _read(text: str, **more: object) -> Plan:
        return read_plan(text, "plan.toml", **more)  # type: ignore[arg-type]

    return _read


@pytest.fixture
def worked(read: Read) -> Callable[..., Worked]:
    """Reads and works out a plan from TOML text."""

    def _worked(text: str, **more: object) -> Worked:
        return work_out(read(text, **more))

    return _worked


@pytest.fixture
def v_text() -> Callable[..., str]:
    """An anchor of equal legs that hold a load, with the angle between or from the horizontal."""

    def _text(
        angle: float,
        convention: str = "included",
        legs: int = 2,
        force: str = "1 kN",
        more: str = "",
    ) -> str:
        names = [f"leg{n}" for n in range(legs)]
        flat = "" if legs == 2 else ", 0"
        points = "".join(f"[point.{name}]\nkind = 'anchor'\n" for name in names)
        return (
            f"[point.load]\nkind = 'load'\nat = [0, 0{flat}]\nforce = '{force}'\n{points}"
            f"[anchor.main]\njoins = 'load'\nlegs = {names}\nangle = {angle}\n"
            f"convention = '{convention}'\nleg_length = 1.0\n{more}"
        )

    return _text


@pytest.fixture
def redirect_text() -> Callable[..., str]:
    """A rope that holds 1 kN over a pulley on an anchor, its strands a given angle apart."""

    def _text(
        angle: float,
        convention: str = "included",
        efficiency: float = 1.0,
        way: str = "holding",
        force: str = "1 kN",
    ) -> str:
        return (
            f"way = '{way}'\n"
            f"[point.top]\nkind = 'anchor'\nat = [0, 0]\nefficiency = {efficiency}\n"
            f"held_by = [{{ figures = '22/7/7' }}]\n"
            f"[point.load]\nkind = 'load'\nat = [0, -3]\nforce = '{force}'\n"
            f"[point.hand]\nkind = 'hand'\nplace = {{ from = 'top', with = 'load', angle = {angle}, "
            f"convention = '{convention}', distance = 2, side = 'right' }}\n"
            "[rope.main]\npath = ['load', 'top', 'hand']\n"
        )

    return _text
