"""The register: one SQLite file with an append-only history of every connector.

Takes decisions and life events of persons, readings and evidence; gives connectors as they are
now, their history, and what waits to be confirmed. The present state is always worked out from
the events. Imports no other room: it takes and gives values from `words`.
"""

from __future__ import annotations

from stampreader.register.arrivals import (
    Undone,
    add_arrival,
    add_photos,
    arrival_of_photo,
    confirm_arrivals,
    in_words,
    set_aside,
    undo_last,
    waiting,
    waiting_with_label,
)
from stampreader.register.check import check_register
from stampreader.register.clashes import Conflict, list_conflicts
from stampreader.register.connectors import (
    SORTS,
    Filter,
    count_connectors,
    find_connector,
    id_is_taken,
    list_connectors,
    listing_sql,
    new_ids,
    stamped_alike,
)
from stampreader.register.deriving import FIELDS, KN_FIELDS, TEXT_FIELDS, Connector, derive
from stampreader.register.entries import add_by_hand, clean_fields, clean_figure, correct_entry
from stampreader.register.events import Event, Kind
from stampreader.register.evidence import (
    Crop,
    connectors_on,
    crops_on,
    find_reading,
    keep_crop,
    keep_reading,
    photo_is_known,
    read_crop,
    readers_key,
)
from stampreader.register.exchange import export_lines, import_lines
from stampreader.register.faults import (
    NewerRegister,
    NoRegister,
    NotARegister,
    RegisterBusy,
)
from stampreader.register.filed import (
    events_on,
    first_crop,
    last_event,
    photo_name,
    set_aside_of,
)
from stampreader.register.merge import Merger, merge_registers
from stampreader.register.orders import keep_order, order_of
from stampreader.register.settings import (
    ID_PATTERN,
    MEANINGS,
    Settings,
    change_setting,
    read_settings,
    setting_names,
)
from stampreader.register.sheet import COLUMNS, as_row, safe_cell, write_csv
from stampreader.register.steps import LIFE_WORDS, Life, refusal
from stampreader.register.store import Register, open_register

__all__ = [
    "COLUMNS",
    "FIELDS",
    "ID_PATTERN",
    "KN_FIELDS",
    "LIFE_WORDS",
    "MEANINGS",
    "SORTS",
    "TEXT_FIELDS",
    "Conflict",
    "Connector",
    "Crop",
    "Event",
    "Filter",
    "Kind",
    "Life",
    "Merger",
    "NewerRegister",
    "NoRegister",
    "NotARegister",
    "Register",
    "RegisterBusy",
    "Settings",
    "Undone",
    "add_arrival",
    "add_by_hand",
    "add_photos",
    "arrival_of_photo",
    "as_row",
    "change_setting",
    "check_register",
    "clean_fields",
    "clean_figure",
    "confirm_arrivals",
    "connectors_on",
    "correct_entry",
    "count_connectors",
    "crops_on",
    "derive",
    "events_on",
    "export_lines",
    "find_connector",
    "find_reading",
    "first_crop",
    "id_is_taken",
    "import_lines",
    "in_words",
    "keep_crop",
    "keep_order",
    "keep_reading",
    "last_event",
    "list_conflicts",
    "list_connectors",
    "listing_sql",
    "merge_registers",
    "new_ids",
    "open_register",
    "order_of",
    "photo_is_known",
    "photo_name",
    "read_crop",
    "read_settings",
    "readers_key",
    "refusal",
    "safe_cell",
    "set_aside",
    "set_aside_of",
    "setting_names",
    "stamped_alike",
    "undo_last",
    "waiting",
    "waiting_with_label",
    "write_csv",
]
