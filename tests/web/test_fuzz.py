"""Requests nobody would send: whatever comes, the page answers in words and never falls over.

`STAMPREADER_FUZZ=20000` runs so many cases instead of a few hundred.
"""

import os
import string
from urllib.parse import urlencode

import pytest
from asking import BASE, open_page
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stampreader.web.app import ROUTES

CASES = int(os.environ.get("STAMPREADER_FUZZ", "300"))
ODD = st.one_of(
    st.text(max_size=40),
    st.sampled_from(
        ["", "-", "27", "9" * 400, "1e999", "NaN", "\0", "../..", "<b>", "confirm", "correct",
         "take out", "set aside", "undo", "skip", "stop", "again", "Spring", "1", "1,2,3", "CE 9123",
         "EN 362:2004/B", "\u202e27", "27/8/7", "２７", "true", "None", "' OR 1=1 --", "%00", "on"]
    ),
)  # fmt: skip
NAMES = st.one_of(
    st.sampled_from(
        ["decision", "token", "seen", "member", "closed", "cross", "open", "marks", "maker", "id",
         "serial", "made_on", "reason", "delivery", "what", "number", "look", "keys", "load", "onto",
         "photo", "key"]
    ),
    st.text(string.ascii_letters, max_size=8),
)  # fmt: skip
PATHS = st.one_of(
    st.sampled_from(sorted({route.path for route in ROUTES} - {"/stop", "/open"})),
    st.builds("/{}/{}".format, st.sampled_from(["crop", "whole", "photo", "look"]), ODD),
    ODD.map(lambda text: "/" + text),
)
FORMS = st.lists(st.tuples(NAMES, ODD), max_size=8)
TYPES = st.sampled_from(
    ["application/x-www-form-urlencoded", "multipart/form-data; boundary=e", "text/plain", ""]
)


@pytest.fixture(scope="module")
def ask(tmp_path_factory):
    """Asks the page behind its guard, in this process; gives the status and the text."""
    with open_page(tmp_path_factory.mktemp("fuzz")) as page:
        yield page


@settings(
    max_examples=CASES, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.sampled_from(["GET", "POST"]),
    PATHS,
    FORMS,
    FORMS,
    TYPES,
    st.binary(max_size=200),
    st.booleans(),
)
def test_whatever_is_sent_is_answered(ask, method, path, query, form, kind, junk, is_form):
    """Any path, query and body get an answer below 500 without a word of the inside."""
    body = urlencode(form, errors="replace").encode() if is_form else junk
    asked = urlencode(query, errors="replace")
    if path.startswith(("/review", "/pulse", "/rest")) and "delivery" not in asked:
        asked += "&delivery=Spring"
    status, text = ask(method, BASE + path, asked, body if method == "POST" else b"", kind)
    assert status < 500, text
    assert "Traceback" not in text and "sqlite" not in text.lower()


@settings(
    max_examples=CASES, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(FORMS, st.sampled_from(["skip", "undo", "take out", "correct", "again", "set aside"]))
def test_answers_with_the_right_token_never_fall_over(ask, form, decision):
    """Forms with the token of the question asked now: decided, or refused in words."""
    import re

    _, text = ask("GET", BASE + "/review", "delivery=Spring", b"", "")
    token = re.search(r'name="token" value="([0-9a-f]{32})"', text)
    fields = [(k, v) for k, v in form if k not in ("token", "decision")]
    fields += [("decision", decision), ("token", token.group(1))]
    body = urlencode(fields, errors="replace").encode()
    kind = "application/x-www-form-urlencoded"
    status, text = ask("POST", BASE + "/review", "delivery=Spring", body, kind)
    assert status in (303, 409, 422), text


def test_nothing_was_confirmed_by_chance(ask, tmp_path):
    """After all of it everything that waited still waits or was set aside, nothing was entered."""
    status, text = ask("GET", BASE + "/look", "id=C-0001", b"", "")
    assert 404 == status
    assert "No connector C-0001" in text
