"""The rooms keep their order: one-way imports, pure rooms without I/O, each tool in its place."""

import ast
import fnmatch
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "stampreader"

SHARED = {"words", "units", "errors", "paper"}
"""Values everyone may import. They import no room; a shared one may raise what `errors` holds."""

MAY_IMPORT: dict[str, set[str]] = {
    "photo": set(),
    "spine": {"photo"},
    "reader": {"photo", "spine"},
    "figures": set(),
    "marks": set(),
    "standards": set(),
    "margin": set(),
    "register": set(),
    "relief": {"photo", "spine"},
    "likeness": set(),
    "reading": {"photo", "spine", "reader", "relief", "figures", "marks", "standards"},
    "confirm": {"standards"},
    "rig": {"margin"},
    "fit": {"standards"},
    "report": {"register", "standards", "margin", "rig"},
}
"""Which rooms a room may import. The thin faces may import any room but the training."""

NEVER_IMPORTED = {"train"}
FACES = {"cli", "web"}
OWNERS = {
    "sqlite3": "register/",
    "sqlite_utils": "register/",
    "subprocess": "reader/tesseract.py",
    "typer": "cli/",
    "rich": "cli/",
    "torch": "train/",
    "mitsuba": "train/",
    "bpy": "train/traced/blender.py",
    "distributed": "reading/cluster.py",
}
"""Modules from outside that only one place of the package may import; development tools apart."""

PURE = {
    *("words", "units", "errors", "paper"),
    *("figures", "marks", "standards", "margin", "rig", "fit"),
}
IMPURE_MODULES = {
    "os",
    "io",
    "pathlib",
    "shutil",
    "tempfile",
    "socket",
    "urllib",
    "subprocess",
    "sqlite3",
    "random",
    "secrets",
    "time",
    "logging",
    "cv2",
}
IMPURE_CALLS = {"open", "print", "input", "exec", "eval"}
CLOCK_CALLS = {
    ("datetime", "now"),
    ("datetime", "today"),
    ("datetime", "utcnow"),
    ("date", "today"),
    ("time", "time"),
}


def modules() -> list[Path]:
    """Every module of the package."""
    return sorted(PACKAGE.rglob("*.py"))


def name_of(path: Path) -> str:
    """The module's place inside the package, such as `photo/file.py`."""
    return path.relative_to(PACKAGE).as_posix()


def room_of(path: Path) -> str:
    """The room a module lies in; for a module at the top of the package, its own name."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported(path: Path) -> set[str]:
    """All modules a file imports, wherever in the file the import stands, with dotted names."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            above = path.relative_to(ROOT).parts[: -node.level] if node.level else ()
            base = ".".join([*above, *([node.module] if node.module else [])])
            names |= {base, *(f"{base}.{alias.name}" for alias in node.names)}
    return names


def rooms_imported(path: Path) -> set[str]:
    """Rooms and shared modules of ours that a file imports, its own left out."""
    ours = {n.split(".")[1] for n in imported(path) if n.startswith("stampreader.")}
    return {n for n in ours if (PACKAGE / n).is_dir() or (PACKAGE / f"{n}.py").is_file()} - {
        room_of(path)
    }


def test_every_room_is_in_the_table():
    """Each folder of the package is a room with a rule, so that none escapes these tests."""
    folders = {p.parent.relative_to(PACKAGE).parts[0] for p in PACKAGE.glob("*/__init__.py")}
    assert set(MAY_IMPORT) | FACES | NEVER_IMPORTED == folders
    assert SHARED | {"__init__", "__main__"} == {p.stem for p in PACKAGE.glob("*.py")}


@pytest.mark.parametrize("path", modules(), ids=name_of)
def test_imports_go_one_way(path):
    """A module imports only the rooms its own room may, and nobody imports the training."""
    room, others = room_of(path), rooms_imported(path) - SHARED
    if room in SHARED:
        assert set() == others
        assert rooms_imported(path) <= {"errors"}
    elif room in MAY_IMPORT:
        assert others <= MAY_IMPORT[room]
    elif room == "web":
        assert not others & (NEVER_IMPORTED | {"cli"})
    elif room == "cli":
        assert not others & NEVER_IMPORTED
        assert "web" not in others or name_of(path) in {"cli/review.py"}
    elif room in {"__init__", "__main__"}:
        assert others <= {"cli"}


@pytest.mark.parametrize("room", sorted({*MAY_IMPORT, *FACES}))
def test_a_door_says_what_the_room_takes_and_gives(room):
    """The door of each room has a docstring of more than a few words."""
    text = ast.get_docstring(ast.parse((PACKAGE / room / "__init__.py").read_text("utf-8")))
    assert text is not None and len(text.split()) >= 8


@pytest.mark.parametrize("path", [p for p in modules() if room_of(p) in PURE], ids=name_of)
def test_pure_rooms_touch_nothing_outside(path):
    """Pure rooms import no files, clock, chance or pictures, and open or print nothing."""
    tops = {name.split(".")[0] for name in imported(path)}
    assert set() == tops & IMPURE_MODULES
    calls = (
        n.func for n in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(n, ast.Call)
    )
    assert set() == {c.id for c in calls if isinstance(c, ast.Name)} & IMPURE_CALLS


@pytest.mark.parametrize("path", [p for p in modules() if room_of(p) != "train"], ids=name_of)
def test_outside_modules_stay_in_their_place(path):
    """SQLite only in the register, child processes only for Tesseract, screens only in cli."""
    tops = {name.split(".")[0] for name in imported(path)}
    strays = {t for t in tops & set(OWNERS) if not name_of(path).startswith(OWNERS[t])}
    assert set() == strays


@pytest.mark.parametrize(
    "path", [p for p in modules() if room_of(p) not in {*FACES, "train"}], ids=name_of
)
def test_only_the_faces_ask_what_time_it_is(path):
    """The wall clock is read in cli and web and passed in, so that the rooms stay testable."""
    asked = {
        tuple(ast.unparse(node).split(".")[-2:])
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Attribute)
    }
    assert set() == asked & CLOCK_CALLS


@pytest.mark.parametrize("path", modules(), ids=name_of)
def test_modules_stay_short(path):
    """No module is longer than 400 lines."""
    assert len(path.read_text("utf-8").splitlines()) <= 400


def test_functions_stay_short():
    """Half of all functions have at most 12 lines and nine in ten at most 35, docstrings apart."""
    lengths = []
    for path in modules():
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.FunctionDef):
                body = node.body[1:] if ast.get_docstring(node) else node.body
                lengths.append(1 + (body[-1].end_lineno - body[0].lineno + 1 if body else 0))
    lengths.sort()
    assert lengths[len(lengths) // 2] <= 12
    assert lengths[len(lengths) * 9 // 10] <= 35


def test_top_level_holds_what_it_may():
    """At the top lie the listed files and folders, dotfiles, and what git ignores: nothing else."""
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "pyproject.toml",
        "stampreader",
        "tests",
        "test_images",
        "schema",
    }
    ignored = [line.strip("/") for line in (ROOT / ".gitignore").read_text("utf-8").split()]
    present = {p.name for p in ROOT.iterdir() if not p.name.startswith(".")}
    extra = {n for n in present - allowed if not any(fnmatch.fnmatch(n, i) for i in ignored)}
    assert set() == extra
    assert set() == allowed - present
