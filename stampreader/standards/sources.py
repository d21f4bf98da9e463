"""Where the figures of this room were read, and how far each source may be trusted.

The paid standards themselves were not open to us: figures come from published summaries, official
texts and clubs. Each figure names its source, so that it can be looked up in the standard.
"""

from __future__ import annotations

from enum import StrEnum


class Confidence(StrEnum):
    """How well a figure is sourced."""

    SEVERAL = "seen in two or more independent sources"
    ONE = "seen in one source"
    MEMORY = "from memory, no source seen"


SOURCES: dict[str, str] = {
    "en12275": "EN 12275:2013, table of static strengths, in a test house's published summary",
    "en12275-several": (
        "EN 12275:2013, table of static strengths, in a test house's published summary and in at "
        "least one other publication"
    ),
    "en12275-1998": (
        "range of EN 12275:1998 and UIAA 121 over all classes (18 to 25, 7 to 10 cross-loaded, 5 "
        "to 7 gate open), as given by a mountain instructor"
    ),
    "en12275-editions": (
        "a notified body's comparison of EN 12275:1998 with the draft of 2011, and a list of "
        "changes of EN 12275:2013"
    ),
    "en362": "EN 362:2004, clause 4.2, in a published summary",
    "en362-several": (
        "EN 362:2004, clause 4.2, in a published summary, and a Canadian provincial regulator's "
        "bulletin on connectors"
    ),
    "en362-lock": (
        "a Canadian provincial regulator's two bulletins on connectors: self-closing, with a lock "
        "that opens only by two or more deliberate actions"
    ),
    "uiaa-old": "UIAA chapter C (the rule before UIAA 121), as kept by an Italian alpine club",
    "uiaa-121": "UIAA 121 (2004), foreword: EN 12275 with extra demands",
    "uiaa-ce": "a Canadian provincial regulator's bulletin: the UIAA label presupposes CE",
    "nfpa-t": "NFPA 1983, T class, in an examination primer (weak: have the clause read)",
    "nfpa-g": (
        "NFPA 1983, G class, in a rescue trainer's article and two examination primers (weak: "
        "have the clause read)"
    ),
    "nfpa-old": "NFPA 1983, older edition, in a rescue trainer's article (two decimals in kN)",
    "nfpa-g-minor": "NFPA 1983, G class, minor axis, in an examination primer (weak)",
    "nfpa-letters": "NFPA committee paper on the 2017 edition of NFPA 1983, and a rescue journal",
    "nfpa-certified": (
        "a paper by engineers of a test house: certification by a third party is compulsory "
        "under NFPA 1983 (weak: hosted by a maker)"
    ),
    "z359": (
        "ANSI/ASSP Z359.12-2019, in a test house's published summary and a second extract; the "
        "same pair in 29 CFR 1926.502(d) of OSHA"
    ),
    "z359-lock": "ANSI/ASSP Z359.12, in an extract: self-closing and self-locking",
    "osha": "29 CFR 1926.502(d)(3) and (4) of OSHA, and OSHA's letter of 13 October 2009",
    "csa": "CSA Z259.12, catalogue pages of the standard; its strengths were not found",
    "f1774": "ASTM F1774, in a climbing glossary (weak); scope from the standard's public page",
    "f1956": "ASTM F1956, scope from the standard's public page",
    "iso10333": "ISO 10333-5:2001, scope from a standards catalogue",
    "gost": "GOST R EN 362-2008 adopts EN 362, in two Russian-language pages (weak)",
    "ppe": (
        "Regulation (EU) 2016/425; notified bodies' guides: the four-digit number beside CE is "
        "that of the body that watches production"
    ),
    "ukca": "the United Kingdom government's guide to Regulation 2016/425 in Great Britain (2024)",
    "marks-1995": "two European sources: CE on these connectors since the middle of 1995",
    "pictograms": "a rope test laboratory's and an alpine journal's description of the marks",
    "order": (
        "an Italian alpine club's manual gives closed, cross, open; other lists give closed, "
        "open, cross: no source says the order is laid down"
    ),
    "rating": "a rope test laboratory on breaking strengths and three standard deviations",
    "wll": "two writers on quick links and one on rigging: breaking load over 5, over 4 (weak)",
    "directions": (
        "a national park service's technical rescue handbook (11th edition, 2014): gate open "
        "usually under half of closed, three-way pulls without any rating"
    ),
    "system": (
        "a fire department's anchor procedure (2015): the factor of a system is the lowest single "
        "factor anywhere in it"
    ),
    "accessory": "an encyclopaedia's article on carabiners",
    "nist": "NIST Special Publication 811, appendix B",
    "memory": "from memory, no source seen: advice only, never a verdict",
}
"""What a key used by a table or a text stands for, in words a person can follow up."""
