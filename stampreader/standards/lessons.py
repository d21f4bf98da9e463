"""What a beginner should know about figures and marks, in plain words, with sources."""

from __future__ import annotations

from dataclasses import dataclass

from stampreader.standards.tables import EN_362, EN_12275, NFPA, OTHERS, UIAA, Z359, Row


@dataclass(frozen=True, slots=True)
class Lesson:
    """One thing explained.

    Attributes:
        title: what it is about.
        names: what a person may type to get it, in capitals; the first is the usual one.
        text: paragraphs.
        rows: classes whose minima belong to it.
        sources: keys of `SOURCES`.
    """

    title: str
    names: tuple[str, ...]
    text: tuple[str, ...]
    rows: tuple[Row, ...] = ()
    sources: tuple[str, ...] = ()


PICTOGRAMS = r"""
   closed             cross              gate open
                        ^
  <--(=====)-->      (=====)          <--(==/  )-->
                        v
  along the spine,   across the       along the spine,
  gate shut          spine            gate standing open
""".strip("\n")

LESSONS: tuple[Lesson, ...] = (
    Lesson(
        "The three figures and their pictograms",
        (
            "FIGURES",
            "PICTOGRAM",
            "PICTOGRAMS",
            "STRENGTH",
            "CLOSED",
            "CROSS",
            "OPEN",
            "GATE OPEN",
            "CROSS-LOADED",
            "MAJOR AXIS",
            "MINOR AXIS",
            "ARROWS",
        ),
        (
            PICTOGRAMS,
            "Closed: pulled along the spine (the major axis) with the gate shut. This is the "
            "largest figure and the only direction a connector is meant to be loaded in.",
            "Cross: pulled across the spine (the minor axis), as when it turns in the loop. Often "
            "a third of the first figure or less.",
            "Gate open: pulled along the spine while the gate stands open, so that the spine alone "
            "holds. Usually under half of the first figure. It happens when a rope, a rock edge or "
            "a swing pushes the gate.",
            "The little drawing beside a figure says which direction it is for: an arrow along the "
            "outline, an arrow across it, or an outline whose gate stands open. Go by the "
            "drawing, not by the order: the order differs, and cross and gate open are often equal "
            "or close, so that a mistake is not noticed from the numbers.",
            "None of the figures speaks of a pull in three directions, of a load over an edge or "
            "of a load on the nose only. For those there is no rating.",
        ),
        sources=("pictograms", "order", "directions"),
    ),
    Lesson(
        "kN: the unit of the figures",
        ("KN", "KILONEWTON", "LBF", "LB", "KG", "KGF", "DAN", "UNITS"),
        (
            "A kilonewton is a force: about the weight of 102 kg, or about 225 pounds-force. A "
            "person with kit is often counted as 1 kN.",
            "Exact: 1 lbf is 0.0044482216152605 kN, 1 kgf is 0.00980665 kN, 1 daN is 0.01 kN. "
            "This program converts with these and rounds to the safe side.",
            "Standards that print a pair, such as 16 kN (3,600 lbf), have rounded one to the "
            "other. A stamp is held against the figure of its own unit.",
        ),
        sources=("nist",),
    ),
    Lesson(
        "What a strength figure promises: MBS and WLL",
        ("MBS", "WLL", "3 SIGMA", "3SIGMA", "SIGMA", "RATING", "BREAKING STRENGTH"),
        (
            "MBS, minimum breaking strength, is what a new connector of that make holds at least "
            "when pulled slowly to breaking. It is not a load to be hung on it: the team's "
            "ratio stands between the two (10:1 allows a tenth).",
            "'3 sigma' beside it says how it was found: the mean of a test series less three "
            "standard deviations. It speaks of new connectors, not of worn ones.",
            "WLL, working load limit, is a load that may be hung on hardware, a fraction of the "
            "breaking strength. A figure in kg on a quick link is normally such a limit, often a "
            "fifth of the breaking load, and must not be taken for a strength in kN.",
        ),
        sources=("rating", "wll"),
    ),
    Lesson(
        "Margin and ratio",
        ("MARGIN", "RATIO", "10:1", "15:1", "SAFETY FACTOR"),
        (
            "The margin is the stamped strength over the force on the connector: 22 kN under 2 kN "
            "is 11. The ratio is the margin a team asks for, such as 10:1 or 15:1. The whole "
            "system is as good as its weakest connector in its worst direction.",
            "A figure that is missing gives no margin: it counts as not allowed. Margins are cut "
            "off, never rounded up: 40 kN under 600 lbf is 14.98, and that is not 15.",
            "How large the ratio should be is the team's decision; no single number is right for "
            "every use. `stampreader margin` works it out for closed, cross and gate open.",
        ),
        sources=("system", "nist"),
    ),
    Lesson(
        "CE and its four digits",
        ("CE", "CE MARK", "NOTIFIED BODY"),
        (
            "CE says that the maker declares the product to meet European law. Connectors for "
            "climbing and fall protection are in the highest category, where an outside body "
            "watches production: its number, always four digits with any leading zeros, stands "
            "beside CE.",
            "CE with no number, or with fewer or more digits, is a reason to look again: a digit "
            "may be worn off, or the mark is not genuine. On these connectors CE has been due "
            "since the middle of 1995.",
            "CE is no strength and no class: the standard beside it says what was tested.",
        ),
        sources=("ppe", "marks-1995"),
    ),
    Lesson(
        "UKCA",
        ("UKCA",),
        (
            "The mark of Great Britain with the same meaning as CE, also with the four-digit "
            "number of the body. Great Britain goes on accepting CE, so either may stand there.",
        ),
        sources=("ukca",),
    ),
    Lesson(
        "EN 362: connectors of fall protection at work",
        ("EN 362", "EN362", "362", "GOST R EN 362"),
        (
            "The European standard for connectors in personal fall protection. The letter is the "
            "class: B basic, M multi-use, T termination, A anchor, Q quick link.",
            "The self-closing classes must hold 15 kN closed but not locked, and 20 kN locked. "
            "There is no gate-open figure in this standard.",
            "Class M must hold 15 kN across, double of class B. GOST R EN 362 is the Russian "
            "adoption, with the same letters.",
        ),
        EN_362,
        ("en362-several", "en362-lock", "gost"),
    ),
    Lesson(
        "EN 12275: connectors of mountaineering",
        ("EN 12275", "EN12275", "12275"),
        (
            "The European standard for climbing connectors. The letter is the class (in a ring "
            "on some, from memory): B basic, H for the Italian (Munter) hitch, K for via ferrata, "
            "A anchor, T termination, Q quick link, X oval.",
            "Gate open, classes A, B, H, T and X have no minimum if the gate locks by itself; "
            "class K always has one.",
            "Editions: of 1998 and of 2013. Class D of 1998 became T in 2013; a class M stood only "
            "in a draft. The class figures below are those of 2013.",
        ),
        EN_12275,
        ("en12275-several", "en12275-1998", "en12275-editions"),
    ),
    Lesson(
        "UIAA: the mountaineering federation's label",
        ("UIAA", "UIAA 121"),
        (
            "UIAA 121 builds on EN 12275 with extra demands. It is voluntary and presupposes CE. "
            "Before it, UIAA marks had N or L in a ring, classes whose minima are not known here.",
        ),
        (UIAA,),
        ("uiaa-121", "uiaa-ce", "uiaa-old", "en12275-1998"),
    ),
    Lesson(
        "NFPA 1983 and NFPA 2500: rope rescue of North American fire services",
        ("NFPA", "NFPA 1983", "NFPA 2500", "1983", "2500"),
        (
            "NFPA 1983 was put into NFPA 2500 in 2022, together with two others; the letters mean "
            "the same. G, general use, is the heavier class; T, technical use, the lighter one; "
            "E is for escaping from a building.",
            "The lighter class has been called P (personal), then L (light), then T. Ratios such "
            "as 15:1 and the words one-person and two-person last stood in the edition of 1995: a "
            "letter is no leave for a load.",
            "The figures below come from weak sources and should be read in the standard.",
        ),
        NFPA,
        ("nfpa-letters", "nfpa-t", "nfpa-g", "nfpa-old", "nfpa-g-minor"),
    ),
    Lesson(
        "ANSI/ASSP Z359.12 and OSHA: fall arrest in the United States",
        ("ANSI Z359.12", "ANSI", "Z359", "Z359.12", "ANSI/ASSP Z359.12", "OSHA"),
        (
            "Connectors must hold 5,000 lbf (22.2 kN) along the major axis, and 3,600 lbf (16 kN) "
            "on the gate from the front and the side. They lock by themselves. OSHA asks the same "
            "5,000 and 3,600 lbf.",
            "The 3,600 lbf across gate and spine is a force to be held, not a breaking strength: "
            "it cannot be compared with the cross figure of a European stamp.",
        ),
        (Z359,),
        ("z359", "z359-lock", "osha"),
    ),
    Lesson(
        "Standards known here by name only, or little more",
        (
            "ASTM",
            "ASTM F1774",
            "F1774",
            "ASTM F1956",
            "F1956",
            "ISO 10333-5",
            "ISO 10333",
            "CSA Z259.12",
            "CSA",
            "Z259.12",
            "AS/NZS 4488",
            "AS/NZS 1891",
            "AS/NZS",
        ),
        (
            "ASTM F1774 is for climbing connectors, ASTM F1956 for rescue ones (a light and a "
            "heavy type); ISO 10333-5 is for fall arrest of one person and leaves rescue out; CSA "
            "Z259.12 is the Canadian and AS/NZS 1891 and 4488 are the Australian and New Zealand "
            "standards.",
            "Ask the maker or read the standard for what is missing below.",
        ),
        OTHERS,
        ("f1774", "f1956", "iso10333", "csa"),
    ),
    Lesson(
        "Third-party marks",
        ("THIRD PARTY", "THIRD-PARTY", "THIRD-PARTY MARK", "NO THIRD-PARTY MARK"),
        (
            "A standard's number alone is what the maker says. Some marks say that somebody else "
            "has looked: CE or UKCA with the four digits of the body that watches production, "
            "the UIAA label (given only on top of CE), and NFPA marks, whose standard demands "
            "certification.",
            "A connector without any of these is flagged wherever it is shown. That is no verdict: "
            "the mark may be worn off, on the other face, or on the packaging. Look, and ask.",
        ),
        sources=("ppe", "ukca", "uiaa-ce", "nfpa-certified"),
    ),
    Lesson(
        "Not for climbing",
        ("NOT FOR CLIMBING", "ACCESSORY"),
        (
            "Stamped on clips for keys and bags. Whatever else stands on it, it is no connector "
            "for a person's life.",
        ),
        sources=("accessory",),
    ),
)
