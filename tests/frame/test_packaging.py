"""The wheel holds every room, its data, and the schemas of `schema/`."""

import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def test_every_package_is_named():
    """`pyproject.toml` names each folder of the package that holds code, and the schemas."""
    named = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]
    found = {
        ".".join(place.parent.relative_to(ROOT).parts)
        for place in (ROOT / "stampreader").rglob("__init__.py")
    }
    assert found | {"stampreader.schema"} == set(named["packages"])


def files_of(folder):
    """Files of a folder of the repository that belong to it, as paths from the top."""
    return {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / folder).rglob("*")
        if path.is_file()
        and not any(part == "__pycache__" or part.startswith(".") for part in path.parts)
    }


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """A wheel built from a copy of the package."""
    folder = tmp_path_factory.mktemp("wheel")
    source = folder / "source"
    kept = {"pyproject.toml", "LICENSE", "README.md"}
    for name in files_of("stampreader") | files_of("schema") | kept:
        (source / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / name, source / name)
    done = subprocess.run(
        [
            *(sys.executable, "-m", "pip", "wheel", "--no-deps", "--no-build-isolation"),
            *("--quiet", "--disable-pip-version-check", "--wheel-dir", str(folder), str(source)),
        ],
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert 0 == done.returncode, done.stderr
    (built,) = folder.glob("*.whl")
    with zipfile.ZipFile(built) as opened:
        yield opened


def test_the_schemas_are_in_the_wheel(wheel):
    """Each file of `schema/` is in the wheel, byte for byte."""
    names = files_of("schema")
    assert "schema/register.sql" in names
    for name in names:
        assert (ROOT / name).read_bytes() == wheel.read(f"stampreader/{name}")


def test_the_schemas_are_found_here_too():
    """Installed for development, the package finds the same files."""
    from importlib.resources import files

    found = {path.name for path in files("stampreader.schema").iterdir()}
    assert {"register.sql", "reading.schema.json"} <= found


def test_every_room_is_in_the_wheel(wheel):
    """Each module and data file of the package is in the wheel."""
    assert set() == files_of("stampreader") - set(wheel.namelist())
