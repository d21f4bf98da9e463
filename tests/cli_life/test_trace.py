"""Tracing a notice on the command line, and setting everything apart in one step."""

import pytest


def test_a_batch_is_traced(kit):
    """Where each one is; what cannot be ruled out stands apart."""
    out, _ = kit.run("trace", "--maker", "felsnase", "--batch", "24A")
    first, second = out.split("that cannot be ruled out")
    assert "1 connector the notice speaks of" in first and "C-1" in first and "Kit 1" in first
    assert "C-2" in second and "C-3" not in second
    rows = kit.json("trace", "--maker", "felsnase", "--batch", "24A..24C")
    assert [("C-1", True), ("C-2", False), ("C-3", False), ("C-4", False)] == [
        (r["id"], r["certain"]) for r in rows
    ]


def test_nothing_found_is_said(kit):
    """No connector: a line beside the output, exit status 0."""
    kit.add("C-6", maker="Steilhang", batch="7")
    out, err = kit.run("trace", "--delivery", "Autumn", "--maker", "Nobody")
    assert "" != out + err


def test_all_are_quarantined_with_the_reference(kit):
    """One command; the reference stands in each history, and where each is, is listed."""
    out, _ = kit.run("trace", "--maker", "Felsnase", "--batch", "24A", "--quarantine",
                     "--reference", "N-17", "--why", "hairline cracks", "--doubtful-too")  # fmt: skip
    assert "C-1  Kit 1: quarantined" in out and "C-2  Kit 1: quarantined" in out
    for id in ("C-1", "C-2"):
        last = kit.json("show", id)[0]["history"][-1]
        assert ("quarantined", "N-17", "hairline cracks") == (
            last["kind"], last["body"]["reference"], last["body"]["reason"],
        )  # fmt: skip
    rows = kit.json("trace", "--maker", "Felsnase", "--batch", "24A", "--quarantine",
                    "--reference", "N-17", "--only-certain")  # fmt: skip
    assert [("C-1", "quarantined under it before")] == [(r["id"], r["done"]) for r in rows]


REFUSED = {
    "nothing named": ([], "nothing is named to trace"),
    "no reference": (["--batch", "24A", "--quarantine"], "no reference is given"),
    "the doubtful": (
        ["--maker", "Felsnase", "--batch", "24A", "--quarantine", "--reference", "N-17"],
        "2 more cannot be ruled out",
    ),
    "turned round": (["--serial", "SN9..SN1"], "turned round"),
    "no year": (["--made", "May"], "is no year"),
    "no day": (
        ["--batch", "24A", "--quarantine", "--reference", "N", "--on", "today"], "is not a day",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("words", "line"), REFUSED.values(), ids=REFUSED)
def test_wrong_usage(kit, words, line):
    """One line, exit status 2, nothing set apart."""
    assert line in kit.refused("trace", *words, expect=2)
    assert "in-service" == kit.states()["C-1"][0]
