"""The marks connectors carry, as grammar rules.

Which marks there are comes from the standards' public catalogue entries (EN 362, EN 12275, NFPA
1983 and 2500, ANSI/ASSP Z359.12, CSA Z259.12, ASTM F1774 and F1956, ISO 10333-5, AS/NZS 4488 and
1891, GOST R EN 362); how they are written on metal is common practice, no source.
"""

from __future__ import annotations

from stampreader.marks.grammar import Digits, Either, Letter, Pattern, Rule, Sep, Word, maybe, words

CLASS_362 = "ABMQT"
CLASS_12275 = "ABDHKMQTX"
CLASS_NFPA = "GTLPE"
OTHER_EN = ("341", "353", "354", "355", "358", "361", "365", "566", "567", "795", "813", "958")
EDITIONS: dict[str, tuple[str, ...]] = {
    "EN 362": ("1992", "2004"),
    "EN 12275": ("1998", "2013"),
    "GOST R EN 362": ("2008",),
}
"""Years of issue known to us; another year may be newer than this table, or misread."""
MONTHS = tuple("JAN FEB MAR APR MAY JUN JUL AUG SEP OCT NOV DEC".split())  # noqa: SIM905

_YEAR4 = Digits("year", 4, ("19", "20"))
_YEAR2 = Digits("year", 2, tuple(f"{n:02d}" for n in range(100) if n not in (19, 20)))
"""Two digits, but not those that begin a year of which the rest was not seen."""
_YEAR = maybe(
    Either(
        (
            (Sep(":-/", required=True), _YEAR4),
            (Sep(":-", required=True), _YEAR2),
            (Digits("year", 4, ("1992", "1998", "2004", "2013")),),
        )
    ),
)


def _class(among: str) -> Either:
    return maybe(
        Sep("/-:"), maybe(words("CLASS", "TYPE", "KLASSE", "TYP")), Letter("letter", among)
    )


def _en(number: str, among: str) -> Pattern:
    tail = (_YEAR, _class(among)) if among else (_YEAR,)
    return (
        maybe(words("BS", "DIN", "NF", "UNE", "PN"), Sep("-")),
        Word("EN"),
        Sep("-"),
        Word(number),
        *tail,
    )


def _en_cut(number: str, among: str) -> Pattern:
    """Without its first letters, which a reader often misses; the year of issue speaks for it."""
    known = Digits("year", 4, EDITIONS[f"EN {number}"])
    return (maybe(Word("N")), Word(number), Sep(":-/", required=True), known, _class(among))


_BODY = (Sep("-:"), Digits("body", 4))
_EDITION = maybe(Sep("-:/"), _YEAR4, maybe(words("ED", "EDITION"), Sep(".")))
_USE = Either(
    (
        (Word("GENERAL", "letter", "G"), maybe(Word("USE"))),
        (Word("TECHNICAL", "letter", "T"), maybe(Word("USE"))),
        (Word("LIGHT", "letter", "L"), maybe(Word("USE"))),
        (Word("ESCAPE", "letter", "E"), maybe(Word("USE"))),
        (Letter("letter", CLASS_NFPA),),
    )
)
_NFPA_CLASS = maybe(Sep("-/:"), maybe(words("CLASS", "TYPE")), _USE)


def _nfpa(number: str) -> Pattern:
    return (
        maybe(words("MEETS", "CLASSIFIED", "UL")),
        Word("NFPA"),
        Sep("-"),
        Word(number),
        _EDITION,
        _NFPA_CLASS,
    )


_SHORT_YEAR = maybe(Sep("-:", required=True), Either(((_YEAR4,), (_YEAR2,))))
_PART = maybe(Sep(".", required=True), Either(((Digits("part", 1),), (Digits("part", 2),))))

MARKS: tuple[Rule, ...] = (
    Rule("mark", (Word("CE"), *_BODY), "CE {body}"),
    Rule("mark", (Word("UKCA"), *_BODY), "UKCA {body}"),
    Rule("mark", _en("362", CLASS_362), "EN 362[:{year}][/{letter}]"),
    Rule("mark", _en("12275", CLASS_12275), "EN 12275[:{year}][/{letter}]"),
    Rule("mark", _en_cut("362", CLASS_362), "EN 362:{year}[/{letter}]"),
    Rule("mark", _en_cut("12275", CLASS_12275), "EN 12275:{year}[/{letter}]"),
    *(Rule("mark", _en(number, ""), f"EN {number}[:{{year}}]") for number in OTHER_EN),
    Rule(
        "mark",
        (Word("GOST"), maybe(Word("R")), Word("EN"), Word("362"), _YEAR, _class(CLASS_362)),
        "GOST R EN 362[-{year}][/{letter}]",
    ),
    Rule("mark", (Word("UIAA"), maybe(Word("121", "part"))), "UIAA[ {part}]"),
    Rule("mark", _nfpa("1983"), "NFPA 1983[ ({year})][ {letter}]"),
    Rule("mark", _nfpa("2500"), "NFPA 2500[ ({year})][ {letter}]"),
    Rule(
        "mark",
        (
            Word("ANSI"),
            maybe(Sep("/"), words("ASSP", "ASSE")),
            Word("Z359"),
            Sep(".", required=True),
            Either(((Digits("part", 1),), (Digits("part", 2),))),
            _SHORT_YEAR,
        ),
        "ANSI Z359.{part}[-{year}]",
    ),
    Rule(
        "mark",
        (Word("CSA"), Word("Z259"), Sep(".", required=True), Digits("part", 2), _SHORT_YEAR),
        "CSA Z259.{part}[-{year}]",
    ),
    *(
        Rule(
            "mark",
            (Word("AS"), Sep("/"), Word("NZS"), Word(n), _PART, _YEAR),
            f"AS/NZS {n}[.{{part}}][:{{year}}]",
        )
        for n in ("4488", "1891")
    ),
    *(
        Rule("mark", (Word("ASTM"), Word(n), _SHORT_YEAR), f"ASTM {n}[-{{year}}]")
        for n in ("F1774", "F1956")
    ),
    Rule(
        "mark",
        (Word("ISO"), Word("10333"), Sep("-", required=True), Digits("part", 1), _YEAR),
        "ISO 10333-{part}[:{year}]",
    ),
    Rule("mark", (Word("EAC"),), "EAC", floor=0.6),
    Rule("mark", (Word("3"), Word("SIGMA")), "3 SIGMA"),
    Rule("mark", (Word("NOT"), Word("FOR"), Word("CLIMBING")), "NOT FOR CLIMBING"),
)

HALVES: tuple[Rule, ...] = (
    Rule("half", (Word("CE"),), note="CE was seen without its four-digit number.", floor=0.6),
    Rule("half", (Word("UKCA"),), note="UKCA was seen without its four-digit number."),
    Rule("half", (words("NFPA", "ANSI"),), note="A standard's name was seen without its number."),
    Rule("half", (words("ASTM", "AS/NZS"),), note="A standard's name was seen without its number."),
)

DATES: tuple[Rule, ...] = (
    Rule(
        "date",
        (Digits("month", 2, ("0", "10", "11", "12")), Sep("/-.", required=True), _YEAR4),
        "{year}-{month}",
    ),
    Rule("date", (Digits("month", 1), Sep("/-.", required=True), _YEAR4), "{year}-0{month}"),
    Rule(
        "date",
        (_YEAR4, Sep("/-.", required=True), Digits("month", 2, ("0", "10", "11", "12"))),
        "{year}-{month}",
    ),
    Rule("date", (Digits("month", 2, ("0",)), _YEAR4), "{year}-{month}"),
    *(
        Rule("date", (Word(name), Sep("-./"), _YEAR4), f"{{year}}-{n:02d}", floor=0.5)
        for n, name in enumerate(MONTHS, 1)
    ),
    Rule(
        "date", (Digits("month", 2, ("0",)), Sep("/-.", required=True), _YEAR2), "20{year}-{month}"
    ),
    Rule("date", (_YEAR4,), "{year}"),
)
