"""`stampreader standards`: what it teaches, its JSON, and what it refuses."""

import json

import pytest

from stampreader.cli import run


@pytest.fixture(autouse=True)
def _wide_screen(monkeypatch):
    """A screen of 100 columns, whatever the real one."""
    monkeypatch.setenv("COLUMNS", "100")


def printed(capsys, *arguments):
    """What the command prints, with its lines joined so that wrapping does not matter."""
    assert 0 == run(["standards", *arguments])
    return " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (["EN 362:2004/M"], "M multi-use 15 15 1 source 20?"),
        (["EN", "12275/K"], "K Klettersteig, for via ferrata sets 25 7 8 1 source"),
        (["open"], "while the gate stands open"),
        (["27/8/7"], "The three figures and their pictograms"),
        (["CE 9123"], "four digits"),
        (["NFPA 2500 T"], "* from memory, no source seen: advises, never judges."),
        (["10:1"], "40 kN under 600 lbf is 14.98"),
    ],
)
def test_what_is_explained(asked, words, capsys):
    """A mark, a word or figures give their explanation with sources and the note on summaries."""
    text = printed(capsys, *asked)
    assert words in text
    assert "Source:" in text
    assert "read the standard before you rely on one" in text


def test_everything_is_explained_without_a_mark(capsys):
    """Without a mark every lesson is printed, each standard with its table."""
    text = printed(capsys)
    for words in ("EN 362:", "EN 12275:", "UIAA:", "NFPA 1983", "Z359.12", "kN: the unit"):
        assert words in text
    assert 6 == text.count("Least strength in kN")


def test_json_carries_minima_with_their_standing(capsys):
    """Each demand says whether it may judge, and where it was read."""
    assert 0 == run(["standards", "NFPA 1983 T", "--json"])
    (lesson,) = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    (row,) = lesson["minima"]
    standing = {d["slot"]: (d["kN"], d["lbf"], d["verdict"]) for d in row["demands"]}
    # NFPA 1983, T class: 27 kN from an examination primer; the rest from memory.
    assert {
        "closed": (27, 6069, True),
        "cross": (7, 1574, False),
        "open": (7, 1574, False),
    } == standing
    assert all(d["source"] for d in row["demands"])


def test_a_narrow_screen_cuts_nothing(capsys, monkeypatch):
    """On 50 columns text wraps; no cell of the table is shortened."""
    monkeypatch.setenv("COLUMNS", "50")
    assert 0 == run(["standards", "NFPA"])
    assert "…" not in capsys.readouterr().out


def test_an_unknown_mark_names_the_nearest(capsys):
    """What is not known gives one line with the nearest words, status 2."""
    assert 2 == run(["standards", "EN 363"])
    captured = capsys.readouterr()
    assert "" == captured.out
    assert "EN 362" in captured.err
    assert 1 == len(captured.err.splitlines())
