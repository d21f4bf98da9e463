"""What the program is made of: every package locked with its hash, every licence known and told."""

import importlib.metadata
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
LOCK = (ROOT / ".ci" / "requirements.txt").read_text("utf-8")
UNLOCKED = {"train", "bench"}
"""Extras whose packages depend on the machine (a build of torch), or compare us with others."""

TELLING = ("MIT", "BSD", "Apache", "ISC", "PSF", "Python Software Foundation", "MPL", "Mozilla",
           "LGPL-3.0", "Zlib", "Public Domain", "CC0", "HPND")  # fmt: skip
"""Licences that let a team use, change and pass on the program; LGPL: fpdf2 is used, not changed."""
ELSEWHERE = {"axe-playwright-python": "MIT"}
"""A licence that stands only in the file the package brings along."""


def requirements():
    """Requirements of the program and its extras, but for those that are not locked."""
    groups = PROJECT["optional-dependencies"].items()
    lists = [PROJECT["dependencies"], *(deps for name, deps in groups if name not in UNLOCKED)]
    return [Requirement(text) for deps in lists for text in deps]


def locked():
    """Versions of each locked package; there may be several, for several versions of Python."""
    found = {}
    for name, version in re.findall(r"^([\w.-]+)==(\S+)", LOCK, re.MULTILINE):
        found.setdefault(canonicalize_name(name), []).append(version)
    return found


@pytest.mark.parametrize("wanted", requirements(), ids=str)
def test_each_requirement_is_locked(wanted):
    """What pyproject.toml asks for stands in the lock in a version that fits; `.ci/lock` renews it."""
    versions = locked().get(canonicalize_name(wanted.name), [])
    assert versions and all(wanted.specifier.contains(v, prereleases=True) for v in versions), (
        f"{wanted} is not in .ci/requirements.txt: run .ci/lock"
    )


def test_each_locked_package_has_hashes():
    """Every entry has its SHA-256 hashes, so that pip refuses anything else; no address is named."""
    entries = re.split(r"\n(?=[\w])", "\n".join(x for x in LOCK.splitlines() if x[0] != "#"))
    assert len(entries) > 60
    for entry in entries:
        assert re.search(r"--hash=sha256:[0-9a-f]{64}", entry), entry.splitlines()[0]
    assert "://" not in LOCK


def test_continuous_integration_installs_the_locked_ones():
    """`tests/run` in CI installs from the lock with `--require-hashes` before anything else."""
    script = (ROOT / "tests" / "run").read_text("utf-8")
    locked_at = script.index("--require-hashes")
    assert "-r .ci/requirements.txt" in script
    assert script.index('= true ]; then\n    say "installing the locked') < locked_at
    assert locked_at < script.index('"${PACKAGES[@]}"')


def licence_of(name):
    """The licence a package's own metadata tells."""
    told = importlib.metadata.metadata(name)
    classified = [c for c in told.get_all("Classifier") or () if c.startswith("License ::")]
    written = told.get("License-Expression") or told.get("License") or ""
    return "; ".join([written.strip().partition("\n")[0], *classified])  # some give the whole text


def installed():
    """Locked packages that are installed here."""
    here = {canonicalize_name(d.metadata["Name"]) for d in importlib.metadata.distributions()}
    return sorted(here & set(locked()))


@pytest.mark.parametrize("name", installed())
def test_each_licence_is_known(name):
    """Every locked package, down to those that others bring along, has a licence we can live with."""
    licence = ELSEWHERE.get(name) or licence_of(name)
    assert any(word in licence for word in TELLING), f"{name}: {licence[:200]!r}"
    assert not re.search(r"\bA?GPL", licence.replace("LGPL", "")), f"{name}: {licence[:200]!r}"


def test_direct_dependencies_are_listed_with_their_licence():
    """The contributors' guide names every package the program itself asks for, training included."""
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8").lower()
    section = text[text.index("### licences of what is used") :]
    groups = PROJECT["optional-dependencies"].values()
    names = {Requirement(d).name for deps in [PROJECT["dependencies"], *groups] for d in deps}
    assert [] == sorted(name for name in names if name.lower() not in section)


def audited(tmp_path, told, wanted="report"):
    """The verdict of `.ci/audit.py` on what pip-audit printed."""
    file = tmp_path / "told.json"
    file.write_text(told, "utf-8")
    done = subprocess.run(
        [sys.executable, str(ROOT / ".ci" / "audit.py"), str(file), wanted],
        capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    return done.returncode, done.stdout


def test_the_audit_tells_what_it_could_not_ask(tmp_path):
    """No network, or a registry without advisories, is never taken for a clean bill; a weakness
    fails the run."""
    clean = {"name": "a", "version": "1", "vulns": []}
    unknown = {"name": "b", "skip_reason": "not found"}
    weak = {"name": "c", "version": "1", "vulns": [{"id": "X-1", "fix_versions": ["2"]}]}

    def told(*packages):
        return json.dumps({"dependencies": packages})

    assert 0 == audited(tmp_path, told(clean))[0]
    assert 0 == audited(tmp_path, "")[0] and "NOT AUDITED" in audited(tmp_path, "")[1]
    assert 1 == audited(tmp_path, "", "required")[0]
    assert "NOT AUDITED: 1 packages (b" in audited(tmp_path, told(clean, unknown))[1]
    assert 1 == audited(tmp_path, told(clean, unknown), "required")[0]
    status, said = audited(tmp_path, told(clean, weak))
    assert 1 == status and "c 1: X-1, fixed in 2" in said
