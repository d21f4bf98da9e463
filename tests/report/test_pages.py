"""Reports as pages: everything is there, nothing runs off, long and odd content too."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stampreader.paper import A4, LETTER
from stampreader.report import (
    Card,
    Delivery,
    DueLine,
    InspectionDay,
    ListLine,
    Printing,
    card_document,
    delivery_document,
    due_document,
    inspection_document,
    register_document,
)
from stampreader.report.html import document_html
from stampreader.report.ink import MISSING, showable
from stampreader.report.pdf import document_pdf
from stampreader.words import CAUTION

KINDS = ("card", "register", "due", "delivery", "inspection", "kit")


def _plain(text: str) -> str:
    return re.sub(r"\s+", "", text.replace("\u00a0", " "))


def _html_text(html: str) -> str:
    import html as entities

    body = html.split("<body>")[1]
    return entities.unescape(re.sub(r"<[^>]+>", " ", body))


def _edges_are_white(picture: np.ndarray, mm: float, page_mm: tuple[float, float]) -> bool:
    across = int(picture.shape[1] * mm / page_mm[0])
    down = int(picture.shape[0] * mm / page_mm[1])
    strips = (picture[:, :across], picture[:, -across:], picture[:down], picture[-down:])
    return all(strip.min() > 250 for strip in strips)


@pytest.mark.parametrize("kind", KINDS)
def test_every_text_is_on_the_page(kind, documents, read_pdf):
    """Every fact, cell, heading and signature line of the document is printed."""
    printed = _plain(read_pdf(document_pdf(documents[kind])).all_text)
    for text in documents[kind].texts():
        assert _plain(showable(text)) in printed or text == "", text


@pytest.mark.parametrize("kind", KINDS)
def test_html_says_what_the_pdf_says(kind, documents):
    """The HTML page holds every text of the document too."""
    shown = _plain(_html_text(document_html(documents[kind])))
    for text in documents[kind].texts():
        assert _plain(text) in shown, text


@pytest.mark.parametrize("kind", KINDS)
def test_same_input_same_bytes(kind, documents):
    """Printing twice gives the same file; the HTML too."""
    assert document_pdf(documents[kind]) == document_pdf(documents[kind])
    assert document_html(documents[kind]) == document_html(documents[kind])


@pytest.mark.parametrize("kind", KINDS)
def test_creation_date_is_the_time_passed_in(kind, documents, read_pdf):
    """The file says it was made when it was printed, in the form of PDF 32000-1, 7.9.4."""
    pages = read_pdf(document_pdf(documents[kind]))
    assert pages.pdf.get_metadata_value("CreationDate").startswith("D:20261125140300")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("paper", [A4, LETTER], ids=lambda paper: paper.name)
def test_nothing_runs_into_the_edge(kind, paper, documents, read_pdf):
    """No ink within 5 mm of the paper's edge, on either paper."""
    document = documents[kind]
    document = replace(document, printing=replace(document.printing, paper=paper))
    pages = read_pdf(document_pdf(document))
    size = (paper.height, paper.width) if document.wide else (paper.width, paper.height)
    for number in range(len(pages)):
        points = pages.pdf[number].get_size()
        assert size == pytest.approx((points[0] / 72 * 25.4, points[1] / 72 * 25.4), abs=0.1)
        assert _edges_are_white(pages.picture(number), 5.0, size)


def test_pages_are_numbered_and_dated(documents, read_pdf):
    """Each page carries team, report, time of printing and its number of how many."""
    pages = read_pdf(document_pdf(documents["register"]))
    assert len(pages) > 1
    for number in range(len(pages)):
        text = pages.text(number)
        assert f"Page {number + 1} of {len(pages)}" in text
        assert "Northface Team" in text
        assert "Printed 2026-11-25 14:03 UTC" in text
        assert "register state k7f2-1042" in text


@pytest.mark.parametrize("kind", ["card", "kit"])
def test_margins_stand_with_the_caution(kind, documents, read_pdf):
    """Where margins are printed the caution is printed, in PDF and HTML."""
    assert documents[kind].shows_margins
    assert _plain(CAUTION) in _plain(read_pdf(document_pdf(documents[kind])).all_text)
    assert _plain(CAUTION) in _plain(_html_text(document_html(documents[kind])))


def test_card_without_margins_is_not_cluttered(full_card, printing):
    """Without margins there is no margin heading and no caution."""
    document = card_document(replace(full_card, margins=()), printing)
    assert not document.shows_margins
    assert CAUTION not in _html_text(document_html(document))


def test_unknown_figure_is_never_a_number(full_card, printing, read_pdf):
    """A direction without a figure says so; its margin is unknown and it allows none."""
    text = read_pdf(document_pdf(card_document(full_card, printing))).all_text
    assert "no figure" in text
    assert "open unknown 2 unknown none unknown, not allowed" in text


def test_figures_are_printed_as_stamped(full_card, printing, read_pdf):
    """8.5 stays 8.5, 27 stays 27, and 27.0 stays 27.0."""
    figures = (*full_card.figures[:1], replace(full_card.figures[1], kN=Decimal("27.0")))
    text = read_pdf(
        document_pdf(card_document(replace(full_card, figures=figures), printing))
    ).all_text
    assert "27 kN" in text
    assert "27.0 kN" in text


def test_five_hundred_rows_are_all_printed(make_lines, printing, read_pdf):
    """500 connectors: every id once, the table's headings on every page."""
    pages = read_pdf(document_pdf(register_document(make_lines(500), printing)))
    found = re.findall(r"NF-\d{4}", pages.all_text)
    assert [f"NF-{number:04d}" for number in range(1, 501)] == found
    for number in range(len(pages)):
        assert "Maker and model" in pages.text(number)


@pytest.mark.parametrize(
    "document",
    [
        lambda p: register_document([], p),
        lambda p: due_document([], p, p.printed_at.date(), 30),
        lambda p: delivery_document(Delivery("D"), p),
        lambda p: inspection_document(InspectionDay(p.printed_at.date()), p),
        lambda p: card_document(Card("NF-1", "in store"), p),
    ],
    ids=["register", "due", "delivery", "inspection", "card"],
)
def test_nothing_to_show_says_so(document, printing, read_pdf):
    """An empty report is one page that says in words that there is nothing."""
    empty = document(printing)
    pages = read_pdf(document_pdf(empty))
    assert len(pages) == 1
    for table in empty.tables:
        assert _plain(table.empty) in _plain(pages.text(0))
        assert table.empty in _html_text(document_html(empty))


LONG = "Felsnase-Spezial-Überlang " * 12
WORD = "X" * 400


@pytest.mark.parametrize("name", [LONG, WORD, "a/" * 300], ids=["words", "one-word", "slashes"])
def test_very_long_names_are_wrapped_whole(name, printing, read_pdf):
    """A name of hundreds of letters is broken over lines, nothing of it lost or off the page."""
    line = ListLine("NF-0001", name, place=name)
    pages = read_pdf(document_pdf(register_document([line], printing)))
    printed = _plain(pages.all_text)
    assert printed.count(_plain(name)[-6:]) >= 2
    counted = sum(printed.count(letter) for letter in set(_plain(name)))
    assert counted >= 2 * len(_plain(name))
    for number in range(len(pages)):
        assert _edges_are_white(pages.picture(number), 5.0, (297, 210))


def test_row_higher_than_a_page_goes_on_on_the_next(printing, read_pdf):
    """A remark of 6,000 words is printed over pages to its end."""
    words = " ".join(f"w{number:04d}" for number in range(6000))
    pages = read_pdf(document_pdf(register_document([ListLine("NF-1", words)], printing)))
    assert len(pages) > 2
    assert [f"w{number:04d}" for number in range(6000)] == re.findall(r"w\d{4}", pages.all_text)


def test_odd_characters_are_printed_or_marked(printing, read_pdf):
    """Accents, Greek, Cyrillic, ≥ and Hebrew are printed; a missing character is marked as such."""
    line = ListLine("NF-1", "Šámal ≥ Ω Жук אבג 山", serial="tab\there\x00\x07", place="e\u0301")
    document = register_document([line], printing)
    text = read_pdf(document_pdf(document)).all_text
    assert "Šámal ≥ Ω Жук" in text
    assert "é" in text
    assert f"{MISSING} stands for a character the print face lacks" in text
    assert "山" in document_html(document)


def test_hebrew_is_printed_from_right_to_left(printing, read_pdf):
    """PDFium, which turns right-to-left runs back, reads the name as it was typed."""
    text = read_pdf(document_pdf(register_document([ListLine("NF-1", "שלום")], printing))).all_text
    assert "שלום" in text


def test_html_escapes_everything(printing):
    """Markup in a name is text, in every place it may stand."""
    bad = "<script>alert(1)</script>\"'&"
    card = Card(bad, bad, maker=bad, marks=(bad,), findings=(bad,), warnings=(bad,))
    html = document_html(card_document(card, replace(printing, team=bad, state=bad)))
    assert "<script" not in html
    assert html.count("&lt;script&gt;") >= 7


def test_html_fetches_nothing(documents):
    """The page is self-contained: no link, no script, no address but data."""
    html = document_html(documents["card"])
    assert not re.search(r"https?:|<script|<link|@import|url\(", html)
    assert "data:image/png;base64," in html
    assert "data:image/jpeg;base64," in html


def test_delivery_verdict_names_what_differs(documents, read_pdf):
    """The acceptance report says count, odd connectors and those not registered."""
    text = read_pdf(document_pdf(documents["delivery"])).all_text
    assert (
        "Count: ordered 9, arrived 8. 1 of 8 connectors differs from the order. "
        "1 not confirmed yet and not in the register." in text
    )


def test_delivery_in_order_says_so(printing, delivery):
    """Without a difference and nothing waiting the report says that all agree."""
    lines = tuple(replace(line, id="NF-1", differences=(), picture=None) for line in delivery.lines)
    good = replace(delivery, lines=lines, differences=(), advice=())
    assert any(
        "Every connector was confirmed and agrees with the order." == text
        for text in delivery_document(good, printing).texts()
    )


def test_due_list_parts_late_from_soon(printing):
    """A day before today is overdue; today is not."""
    today = printing.printed_at.date()
    lines = [DueLine("A-1", today), DueLine("A-2", today.replace(day=today.day - 1))]
    late, soon = due_document(lines, printing, today, 30).tables
    assert ["A-2"] == [row[0] for row in late.rows]
    assert ["A-1"] == [row[0] for row in soon.rows]
    assert -1 == late.rows[0][-1]


def test_signatures_never_stand_without_what_is_signed(inspection_day, printing, read_pdf):
    """The sentence that is signed stands on the page of the signature lines, for any length."""
    for count in range(16, 26):
        lines = inspection_day.lines[:1] * count
        document = inspection_document(replace(inspection_day, lines=lines), printing)
        pages = read_pdf(document_pdf(document))
        last = pages.text(len(pages) - 1)
        assert f"{count} connectors inspected on 2026-11-20" in last
        assert last.count("name, signature, date") == 2


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.text(max_size=60), st.text(max_size=60)), max_size=6))
def test_any_text_prints(pairs):
    """No text a person may type stops a report, in any form."""
    printing = Printing("Team", datetime(2026, 1, 1, tzinfo=UTC))
    document = register_document([ListLine(a, b, place=a, marks=(b,)) for a, b in pairs], printing)
    assert document_pdf(document).startswith(b"%PDF-")
    assert "Register of connectors" in document_html(document)
