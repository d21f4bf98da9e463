"""What holds a point, a leg or a rope: connectors and other hardware, out of the plan's tables."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from stampreader.errors import UsageError
from stampreader.margin import parse_figures
from stampreader.rig.fields import Fields
from stampreader.rig.plan import Hold, Lookup
from stampreader.words import Slot

MOST_HOLDS = 10
_KINDS = ("id", "figures", "strength", "wanted")


def read_held_by(fields: Fields, lookup: Lookup | None) -> tuple[Hold, ...]:
    """The hardware listed under `held_by`, in order."""
    holds = tuple(read_hold(item, lookup) for item in fields.list_of_tables("held_by"))
    if len(holds) > MOST_HOLDS:
        fields.fail("held_by", f"over {MOST_HOLDS} pieces in one place", "Split the point in two.")
    return holds


def read_hold(fields: Fields, lookup: Lookup | None) -> Hold:
    """One piece of hardware: by its id in the register, by figures, by strength, or wanted.

    Raises:
        PlanError: none or two of these, an unknown id, a figure that is not one.
    """
    kind = fields.one_of(_KINDS)
    if kind is None:
        fields.fail(
            None,
            "this hardware has neither id, figures nor strength",
            'Add id = "…", figures = "27/8/7", strength = "25 kN" or wanted = "…".',
        )
    reader = {"id": _by_id, "figures": _by_figures, "wanted": _wanted}.get(kind, _by_strength)
    values = _common(fields) | reader(fields, lookup)
    fields.finish()
    return Hold(**values)


def read_strength(fields: Fields, name: str) -> tuple[Hold, ...]:
    """The strength of a rope or leg itself, where the plan gives it."""
    if not fields.has("strength"):
        return ()
    keeps, why = _keeps(fields)
    strength = fields.strength("strength")
    return (Hold(name, strength=strength, keeps=keeps, why=why, is_connector=False),)


def _common(fields: Fields) -> dict[str, Any]:
    keeps, why = _keeps(fields)
    loaded = fields.choice("loaded", Slot, Slot.CLOSED)
    gate = fields.flag("gate_towards_edge")
    return {"loaded": loaded, "gate_towards_edge": gate, "keeps": keeps, "why": why}


def _keeps(fields: Fields) -> tuple[Decimal, str]:
    """The part of the strength that is left, with the plan's reason; 1 where it says nothing."""
    if not fields.has("keeps"):
        return Decimal(1), ""
    keeps = Decimal(str(fields.number("keeps", 0.01, 1.0, "0.7")))
    if not fields.has("why"):
        fields.fail("keeps", "'keeps' lowers a strength without saying why", 'Add: why = "…"')
    return keeps, fields.text("why")


def _by_id(fields: Fields, lookup: Lookup | None) -> dict[str, Any]:
    connector_id = fields.text("id", '"TM-0042"')
    if lookup is None:
        fields.fail("id", "there is no register to look ids up in", 'Give figures = "27/8/7".')
    known = lookup(connector_id)
    if known is None:
        fields.fail(
            "id",
            f"connector '{connector_id}' is not in the register",
            "See `stampreader list` for the ids, or give its figures.",
        )
    return {
        "name": fields.optional_text("name", f"{connector_id} {known.name}".strip()),
        "closed": known.closed,
        "cross": known.cross,
        "open": known.open,
        "id": connector_id,
        "barred": known.barred,
        "remarks": known.remarks,
    }


def _by_figures(fields: Fields, _: Lookup | None) -> dict[str, Any]:
    text = fields.text("figures", '"27/8/7"')
    try:
        found = parse_figures(text)
    except UsageError as error:
        fields.fail("figures", str(error), error.remedy)
    figures = {
        slot.value: None if (strength := found.of(slot)) is None else strength.kN for slot in Slot
    }
    return {"name": fields.optional_text("name", "connector"), **figures}


def _by_strength(fields: Fields, _: Lookup | None) -> dict[str, Any]:
    if fields.has("loaded"):
        fields.fail(
            "loaded",
            "only a connector with figures has a direction",
            "Give figures = \"27/8/7\", or leave 'loaded' out.",
        )
    name = fields.text("name", '"pulley"')
    return {"name": name, "strength": fields.strength("strength"), "is_connector": False}


def _wanted(fields: Fields, _: Lookup | None) -> dict[str, Any]:
    wanted = fields.text("wanted", '"life support"')
    return {"name": fields.optional_text("name", f"open place ({wanted})"), "wanted": wanted}
