"""What hostile input is made of, and what it is thrown at: one class a door of the program.

Each case gets a source of chance and either ends well or in one of our own errors, which are shown
as a line. Anything else that is raised is a finding; so is a crash, and so is a case that hangs.
"""

import io
import json
import shutil
import sys
import zlib
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from types import SimpleNamespace
from urllib.parse import urlencode

import cv2
import numpy as np
import segno
from PIL import Image

from stampreader.cli.answers import understand
from stampreader.cli.choosing import typed_marks
from stampreader.confirm import Taken, match, parse_figures
from stampreader.errors import StampError
from stampreader.marks import normal_form
from stampreader.paper import label_id
from stampreader.photo import Limits, load_photo, read_labels
from stampreader.register import (
    add_by_hand,
    check_register,
    clean_fields,
    export_lines,
    import_lines,
    map_columns,
    open_register,
    plan_rows,
    read_table,
)
from stampreader.rig import read_plan, what_if, work_out
from stampreader.units import parse_load
from stampreader.words import Reading, Stamp

ROOT = Path(__file__).resolve().parents[2]
NOW = datetime(2026, 5, 1, tzinfo=UTC)
WORDS = [
    *(
        "",
        " ",
        "-",
        "0",
        "-1",
        "1e999",
        "9" * 400,
        "9" * 5000,
        "NaN",
        "inf",
        "27",
        "27/8/7",
        "27,5",
        "２７",
    ),
    *("\0", "\r\n", "\t", "\x1b[2J", "\u202e27", "\ufeff", "\ud800", "é", "𝟚𝟟", "a" * 5000),
    *("../../etc/passwd", "/dev/zero", "C:\\x", "file:///x", "|sh", "$(id)", "`id`", "; rm -rf /"),
    *("=1+1", "+1", "@SUM(A1)", '=HYPERLINK("x")', "<script>", "{{7*7}}", "%s%n", "' OR 1=1 --"),
    *("[", "]", "{", "}", "[[", '"', "'''", "=", ",", "#", "true", "2 kN", "450 lbf", "2 people"),
    *("EN 362:2004/B", "CE 9123", "UIAA", "STAMPREADER:C-1", "STAMPREADER:../../x", "C-1", "null"),
]


def mutated(data, chance):
    """Bytes changed, cut out, doubled, cut off, filled or joined with something odd."""
    data = bytearray(data or b"x")
    for _ in range(chance.choice([1, 1, 2, 4, 16])):
        if not data:
            return bytes(data)
        a, b = sorted(chance.randrange(len(data) + 1) for _ in range(2))
        b = min(b, a + chance.choice([1, 4, 64, 4096]))
        match chance.randrange(8):
            case 0 | 1 | 2:
                data[min(a, len(data) - 1)] = chance.randrange(256)
            case 3:
                data[min(a, len(data) - 1)] ^= 1 << chance.randrange(8)
            case 4:
                del data[a:b]
            case 5:
                data[a:a] = data[a:b]
            case 6:
                data[a:b] = chance.choice([b"\0", b"\xff", b"\x7f\xff\xff\xff"]) * ((b - a) // 2)
            case 7:
                data[a:a] = chance.choice(WORDS).encode("utf-8", "surrogatepass")[:64]
    return bytes(data[: chance.randrange(len(data) + 1)] if chance.random() < 0.05 else data)


def mutated_text(text, chance):
    """Words exchanged for odd ones, lines dropped, doubled, moved; or changed as bytes."""
    if chance.random() < 0.3:
        return mutated(text.encode(), chance).decode("utf-8", "replace")
    lines = text.split("\n")
    for _ in range(chance.choice([1, 1, 1, 1, 2, 3])):
        at = chance.randrange(len(lines))
        match chance.randrange(5):
            case 0:
                del lines[at : at + chance.choice([1, 1, 5])]
                lines = lines or [""]
            case 1:
                lines.insert(at, chance.choice(lines))
            case 2:
                lines.insert(at, chance.choice(WORDS))
            case _:
                words = lines[at].split(" ")
                words[chance.randrange(len(words))] = chance.choice(WORDS)
                lines[at] = " ".join(words)
    return "\n".join(lines)


class Photo:
    """Damaged files of every format, grown from photos of `test_images/`."""

    share = 30
    limits = Limits(max_pixels=1_000_000)

    def __init__(self, folder):
        self.path, self.seeds = folder / "photo", []
        for name in sorted((ROOT / "test_images").glob("*.jpg"))[::17]:
            self.seeds += list(_formats(Image.open(name).resize((96, 72))))

    def case(self, chance):
        """Load it, in grey and in colour."""
        self.path.write_bytes(mutated(chance.choice(self.seeds), chance))
        photo = load_photo(self.path, self.limits)
        assert photo.grey.shape == photo.size[::-1] and photo.grey.dtype == np.uint8
        assert photo.colour().shape == (*photo.grey.shape, 3)


def _formats(picture):
    import pillow_heif

    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8769)[0x9003] = "2026:05:01 09:30:00"
    for kind in ("JPEG", "PNG", "WEBP", "TIFF", "GIF", "BMP", "AVIF", "MPO", "HEIC", "I;16"):
        buffer = io.BytesIO()
        if kind == "HEIC":
            pillow_heif.from_pillow(picture).save(buffer, exif=exif.tobytes())
        elif kind == "I;16":
            Image.fromarray(np.asarray(picture.convert("L")).astype(np.uint16) * 200).save(
                buffer, "PNG"
            )
        elif kind in ("GIF", "BMP"):
            picture.save(buffer, kind)
        else:
            picture.save(buffer, kind, exif=exif)
        yield buffer.getvalue()


class Exif(Photo):
    """Good pixels with an EXIF block that lies: wrong types, counts, offsets, dates, turns."""

    share = 15

    def __init__(self, folder):
        self.path = folder / "exif"
        buffer = io.BytesIO()
        Image.open(next((ROOT / "test_images").glob("*.jpg"))).resize((64, 48)).save(buffer, "JPEG")
        self.jpeg = buffer.getvalue()

    def case(self, chance):
        """A block built to be wrong, or a sound one with changed bytes, in a JPEG or a PNG."""
        block = self._block(chance)
        if chance.random() < 0.5:
            block = mutated(block, chance)
        block = block[:60000]
        if chance.random() < 0.7:
            part = b"Exif\0\0" + block
            head = b"\xff\xd8\xff\xe1" + (len(part) + 2).to_bytes(2, "big") + part
            self.path.write_bytes(head + self.jpeg[2:])
        else:
            self.path.write_bytes(_png_with(block))
        photo = load_photo(self.path, self.limits)
        assert photo.size in ((64, 48), (48, 64), (8, 8))
        if photo.taken_on is not None:
            datetime.fromisoformat(photo.taken_on)

    def _block(self, chance):
        order = chance.choice(["<", ">"])
        end = "little" if order == "<" else "big"
        entries = b""
        count = chance.randrange(6)
        for _ in range(count):
            tag = chance.choice([0x0112, 0x8769, 0x9003, 0x0132, 0x8825, chance.randrange(65536)])
            kind = chance.choice([1, 2, 3, 4, 5, 7, 9, 10, 12, chance.randrange(65536)])
            many = chance.choice([0, 1, 20, 2**31, chance.randrange(2**32)])
            value = chance.choice([0, 6, 8, 26, chance.randrange(200), chance.randrange(2**32)])
            entries += tag.to_bytes(2, end) + kind.to_bytes(2, end)
            entries += (many % 2**32).to_bytes(4, end) + value.to_bytes(4, end)
        head = (b"II*\0" if order == "<" else b"MM\0*") + (8).to_bytes(4, end)
        nexts = chance.choice([0, 8, 2**32 - 1]).to_bytes(4, end)
        text = chance.choice([b"2026:05:01 09:30:00\0", b"9999:99:99 99:99:99\0", b"\xff" * 20])
        return head + count.to_bytes(2, end) + entries + nexts + text * 3


def _png_with(exif):
    """An 8 × 8 grey PNG with this EXIF block."""

    def chunk(name, data):
        return len(data).to_bytes(4, "big") + name + data + zlib.crc32(name + data).to_bytes(4)

    header = (8).to_bytes(4, "big") * 2 + bytes([8, 0, 0, 0, 0])
    pixels = (
        zlib.compress(b"\0" + b"\x80" * 8) if False else zlib.compress((b"\0" + b"\x80" * 8) * 8)
    )
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"eXIf", exif)
        + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")
    )  # fmt: skip


class Label:
    """QR codes that hold paths, commands, control characters, bytes that are no text; and spoilt
    pictures of codes. The text stays data: printable, short, and an id only if it has an id's form."""

    share = 2

    def __init__(self, folder):
        self.path = folder / "label.png"

    def case(self, chance):
        """Draw it, spoil it a little, read it, and take it in."""
        text = chance.choice(WORDS)[:300] + chance.choice(["", *WORDS])[:300]
        data = text.encode("utf-8", "surrogatepass") or b"\0"
        content = chance.choice([data, mutated(data, chance) or b"\0"])
        buffer = io.BytesIO()
        segno.make(content, error="m", micro=False).save(buffer, kind="png", scale=4, border=4)
        drawn = Image.open(buffer).convert("L")
        pixels = np.asarray(drawn).copy()
        if chance.random() < 0.5:
            y, x = (chance.randrange(side) for side in pixels.shape)
            pixels[y : y + 12, x : x + 12] = chance.randrange(256)
        cv2.imwrite(str(self.path), pixels)
        photo = load_photo(self.path)
        texts = tuple(label.text for label in read_labels(photo))
        assert all(text.isprintable() and 0 < len(text) <= 300 for text in texts)
        _take(texts)


def _take(texts):
    """Take the labels of a photo in: what becomes an id has the form of one."""
    reading = Reading("x.jpg", "0" * 64, (64, 64), (Stamp(),), labels=texts)
    for matched in match([Taken(reading, ("",))]):
        if matched.label is not None:
            fields = clean_fields({"id": matched.label})  # refused in words unless it is an id
            assert ".." not in Path(fields["id"].replace("/", "_")).parts


class Plan:
    """Plans of rigs, grown from the ready ones."""

    share = 14

    def __init__(self, folder):
        ready = sorted((ROOT / "stampreader" / "rig" / "ready").glob("*.toml"))
        self.seeds = [path.read_text("utf-8") for path in ready]

    def case(self, chance):
        """Read it, work it out, and let one thing go wrong at a time."""
        worked = work_out(read_plan(mutated_text(chance.choice(self.seeds), chance), "plan.toml"))
        if chance.random() < 0.1:
            what_if(worked)


CSV = """Label,Manufacturer,Model,Serial No,Closed,Cross,Open,Standards,Location,First use,Checked
A-1,Kantholz,Pear,K-1,24,8,7,"CE 9321, EN 362:2004/B",Kit 1,2020-05-01,2026-03-01
A-2,Felsnase,Oval,K-2,27,8.5,7,CE 9123,Kit 1,2020-05-01,2026-03-01
A-3,Steilhang,D,K-3,40,11,11,UIAA,Kit 2,2021-01-31,
"""
MAPS = ("Label=id", "Closed=closed_kN", "Cross=cross_kN", "Open=open_kN", "Standards=marks",
        "Location=place", "First use=in_service_on", "Checked=inspected_on")  # fmt: skip


class Table:
    """Spreadsheets to import, as CSV and as XLSX."""

    share = 12

    def __init__(self, folder):
        from openpyxl import Workbook

        self.folder = folder
        book = Workbook()
        for line in CSV.splitlines():
            book.active.append(line.split(","))
        book.save(folder / "seed.xlsx")
        self.workbook = (folder / "seed.xlsx").read_bytes()
        self.register = open_register(folder / "table.sqlite", create=True)

    def case(self, chance):
        """Read it and plan every row."""
        if chance.random() < 0.85:
            path = self.folder / "table.csv"
            text = mutated_text(CSV, chance)
            path.write_bytes(text.encode("utf-8", "surrogatepass"))
        else:
            path = self.folder / "table.xlsx"
            path.write_bytes(mutated(self.workbook, chance))
        table = read_table(path)
        columns = map_columns(table, MAPS if chance.random() < 0.8 else ())
        for plan in plan_rows(self.register, table, columns, marks=typed_marks, at=NOW):
            assert str(plan.verdict)


class Exchange:
    """Exchange files of another station: damaged, or sealed anew around something wrong."""

    share = 8

    def __init__(self, folder):
        with open_register(folder / "theirs.sqlite", create=True) as theirs:
            for number in range(4):
                fields = {"closed_kN": "27", "id": f"C-{number}", "marks": ["CE 9123"]}
                add_by_hand(theirs, fields, who="Ada", at=NOW)
            self.lines = [line.encode() for line in export_lines(theirs, at=NOW)]
        self.path = folder / "ours.sqlite"
        with open_register(self.path, create=True) as ours:
            add_by_hand(ours, {"closed_kN": "40", "id": "C-1"}, who="Bea", at=NOW)
        self.before = self.path.read_bytes()

    def case(self, chance):
        """Import it: all or nothing, and the register stays whole."""
        if chance.random() < 0.5:
            lines = mutated(b"".join(self.lines), chance).splitlines(keepends=True)
        else:
            lines = _sealed(self._wrong(chance))
        with open_register(self.path) as ours:
            try:
                import_lines(ours, lines, source="x.jsonl", who="Mel", at=NOW)
            except StampError:
                assert 1 == ours.rows("SELECT count(*) AS n FROM events")[0]["n"]
                raise
            finally:
                if chance.random() < 0.05:
                    assert [] == list(check_register(ours))
            for row in ours.rows("SELECT body, who FROM events"):
                assert not _steers(json.loads(row["body"])) and not _steers(row["who"])
        self._begin_again()

    def _begin_again(self):
        for suffix in ("-wal", "-shm"):
            Path(f"{self.path}{suffix}").unlink(missing_ok=True)
        self.path.write_bytes(self.before)

    def _wrong(self, chance):
        """The values of the file with something changed, dropped, doubled or odd in them."""
        values = [json.loads(line) for line in self.lines[:-1]]
        for _ in range(chance.choice([1, 1, 2])):
            value = chance.choice(values)
            match chance.randrange(4):
                case 0:
                    value.pop(chance.choice(list(value)))
                case 1:
                    values.append(dict(value))
                case _:
                    inner = value.get("body") if chance.random() < 0.5 else value
                    inner = inner if isinstance(inner, dict) and inner else value
                    name = chance.choice([*inner, "new"])
                    inner[name] = chance.choice(
                        [*WORDS, None, 0, -1, 2**70, 1.5, [], {}, [[]], True]
                    )
        return [_hashed(value) for value in values]


def _steers(value):
    """Whether a text in it could steer a terminal."""
    return any(ord(c) < 32 or 127 <= ord(c) < 160 for c in str(value).replace("\\", ""))


def _hashed(value):
    """An event with a hash that fits what was changed in it, most of the time."""
    if value.get("type") != "event":
        return value
    content = {k: v for k, v in value.items() if k not in ("type", "event", "hash")}
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return value | {"hash": sha256(text.encode("utf-8", "surrogatepass")).hexdigest()}


def _sealed(values):
    lines = [json.dumps(value).encode() + b"\n" for value in values]
    digest = sha256(b"".join(lines)).hexdigest()
    end = {"type": "end", "lines": len(lines), "sha256": digest}
    return [*lines, json.dumps(end).encode() + b"\n"]


class Page:
    """Requests to the review page that nobody would send."""

    share = 9
    paths = ("/", "/review", "/pulse", "/rest", "/look", "/photo", "/crop/1", "/whole/1", "/phones")
    names = ("decision", "token", "seen", "member", "closed", "cross", "open", "marks", "maker",
             "id", "serial", "made_on", "reason", "delivery", "number", "look", "load", "key")  # fmt: skip
    kinds = (
        "application/x-www-form-urlencoded",
        "multipart/form-data; boundary=e",
        "text/plain",
        "",
    )

    def __init__(self, folder):
        sys.path.insert(0, str(ROOT / "tests" / "web"))
        from asking import open_page

        from stampreader.web.app import ROUTES

        self.routes = sorted({route.path for route in ROUTES} - {"/stop", "/open"})
        (folder / "page").mkdir()
        self.opened = open_page(folder / "page")
        self.ask = self.opened.__enter__()

    def case(self, chance):
        """Ask; the answer is below 500 and tells nothing of the inside."""
        path = chance.choice([*self.routes, *self.paths, "/" + chance.choice(WORDS)])
        if chance.random() < 0.3:
            path = f"{path}/{chance.choice(WORDS)}"
        form = self._form(chance)
        body = chance.choice([form, form, mutated(form or b"x", chance)])
        query = chance.choice(["", "delivery=Spring", self._form(chance).decode()])
        method = chance.choice(["GET", "POST"])
        status, text = self.ask(
            method, "/base" + path.encode("utf-8", "replace").decode(), query,
            body if method == "POST" else b"", chance.choice(self.kinds),
        )  # fmt: skip
        assert status is not None and status < 500, (
            f"{method} {path!r} {query!r} {body!r}: {status}"
        )
        assert "Traceback" not in text and "sqlite" not in text.lower()

    def _form(self, chance):
        pairs = [
            (chance.choice(self.names), chance.choice(WORDS)) for _ in range(chance.randrange(6))
        ]
        return urlencode(pairs, errors="replace").encode()


class Typed:
    """What a person types: loads, figures, marks, fields of an entry, text found on a stamp."""

    share = 10

    def __init__(self, folder):
        del folder
        self.doors = (parse_load, parse_figures, typed_marks, normal_form, label_id, self._field,
                      self._key)  # fmt: skip

    def case(self, chance):
        """One door, one text."""
        text = "".join(chance.choice([*WORDS, " ", " "]) for _ in range(chance.randrange(1, 5)))
        if chance.random() < 0.3:
            text = mutated(text.encode("utf-8", "surrogatepass"), chance).decode("utf-8", "replace")
        chance.choice(self.doors)(text[:3000])

    def _field(self, text):
        for name in ("id", "maker", "made_on", "closed_kN"):
            clean_fields({name: text}, at=NOW)

    def _key(self, text):
        understand(text, SimpleNamespace(members=(SimpleNamespace(key=1),)))


TARGETS = {
    kind.__name__.lower(): kind for kind in (Photo, Exif, Label, Plan, Table, Exchange, Page, Typed)
}


def clear(folder):
    """Leave nothing of a batch behind."""
    shutil.rmtree(folder, ignore_errors=True)
