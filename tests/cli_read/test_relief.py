"""The commands for worn faces at the real prompt: what they print, refuse and write."""

import json
import subprocess
import sys
from pathlib import Path

import cv2
import jsonschema
import numpy as np
import pytest

ROOT = Path(__file__).parents[2]
SCHEMA = json.loads((ROOT / "schema" / "reading.schema.json").read_text("utf-8"))
sys.path.insert(0, str(ROOT / "tests" / "relief"))

from worn_face import camera, height_field, shot  # noqa: E402


def run(*arguments):
    """Run a command; both outputs as text."""
    command = [sys.executable, "-m", "stampreader", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=240, cwd=ROOT)


@pytest.fixture(scope="module")
def shots(tmp_path_factory):
    """Five shots of a worn face, made by Lambert's law."""
    folder = tmp_path_factory.mktemp("face")
    face = height_field("CE 9123 KN", depth=3.0)
    paths = []
    for k in range(5):
        photo, _ = shot(face, k, 5, None if k == 0 else camera(k))
        paths.append(folder / f"{k + 1}.png")
        cv2.imwrite(str(paths[-1]), photo.grey)
    return paths


def test_read_relief_as_json(shots, tmp_path):
    """One object after the schema: every shot with its residual, nothing sure; the picture shows
    shot, maps and words below each other."""
    picture = tmp_path / "face.png"
    done = run("read", "--relief", *shots, "--json", "--picture", picture, "--readers", "net,line")
    assert (0, "") == (done.returncode, done.stderr)
    (line,) = [json.loads(text) for text in done.stdout.splitlines()]
    jsonschema.validate(line, SCHEMA)
    assert [str(path) for path in shots] == [s["photo"] for s in line["relief"]["shots"]]
    assert all(s["used"] and s["residual_px"] < 1.0 for s in line["relief"]["shots"])
    assert "sure" not in {figure["state"] for figure in line["figures"].values()}
    drawn = cv2.imread(str(picture))
    assert 1400 == drawn.shape[1]
    assert drawn.shape[0] > 300


@pytest.mark.parametrize(("count", "words"), [(2, "2 shots are too few"), (1, "1 shot is too few")])
def test_too_few_shots(shots, count, words):
    """Too few shots: one line on standard error that says what to do; wrong usage."""
    done = run("read", "--relief", *shots[:count])
    assert (2, "") == (done.returncode, done.stdout)
    assert words in done.stderr and "capture-guide" in done.stderr
    assert 1 == len(done.stderr.strip().splitlines())


def test_a_shot_that_cannot_be_read(shots, tmp_path):
    """A broken file among the shots is named in one line; nothing is read."""
    broken = tmp_path / "broken.jpg"
    broken.write_bytes(b"no picture")
    done = run("read", "--relief", *shots[:3], broken)
    assert (1, "") == (done.returncode, done.stdout)
    assert "broken.jpg" in done.stderr
    assert 1 == len(done.stderr.strip().splitlines())


def test_a_picture_that_cannot_be_written(shots):
    """A place for the picture that is no picture, or one of the shots, is refused at once."""
    assert ".jpg or .png" in run("read", "--relief", *shots, "--picture", "face.gif").stderr
    done = run("read", "--relief", *shots, "--picture", shots[0])
    assert 2 == done.returncode and "one of the shots" in done.stderr


def test_verify_relief_against_one_and_all(shots, tmp_path):
    """With an id the entry is compared, with what does not wear; without one, all entries are."""
    register = ["--register", tmp_path / "r.sqlite"]
    run("settings", "person", "Ada Quell", *register)
    run("add", "--figures", "27/8/7", *register)
    some = ["--relief", *shots[:3], "--readers", "net,line"]
    done = run("verify", *some, "C-0001", *register)
    assert 1 == done.returncode
    assert "what does not wear" in done.stdout
    assert "cannot tell" in done.stdout
    unknown = run("verify", *some, "C-0999", *register)
    assert 1 == unknown.returncode and "C-0999" in unknown.stderr
    every = run("verify", *some, *register)
    assert "No connector of the register agrees" in every.stdout or "It may be" in every.stdout


def test_verify_picture_needs_relief(shots, tmp_path):
    """`verify --picture` without `--relief` is wrong usage."""
    done = run("verify", shots[0], "C-0001", "--picture", tmp_path / "x.jpg")
    assert 2 == done.returncode and "--relief" in done.stderr


def test_capture_guide(tmp_path):
    """The guide names every step; its drawing is well-formed SVG with eight lamps (expat)."""
    from xml.etree import ElementTree

    text = run("capture-guide").stdout
    assert all(f"{number}. " in text for number in range(1, 8))
    assert max(map(len, text.splitlines())) <= 100
    picture = tmp_path / "guide.svg"
    assert 0 == run("capture-guide", "--picture", picture).returncode
    tree = ElementTree.fromstring(picture.read_text("utf-8"))
    assert 9 == len(tree.findall(".//{http://www.w3.org/2000/svg}circle"))
    assert 2 == run("capture-guide", "--picture", tmp_path / "guide.doc").returncode


def test_a_blank_face_gives_no_figure(tmp_path):
    """Shots of a face with pits and no mark: nothing is proposed."""
    face = height_field("", seed=12)
    paths = []
    for k in range(5):
        paths.append(tmp_path / f"{k}.png")
        cv2.imwrite(str(paths[-1]), shot(face, k, 5)[0].grey)
    done = run("read", "--relief", *paths, "--json", "--readers", "net,line")
    line = json.loads(done.stdout)
    assert [None, None, None] == [line[f"{slot}_kN"] for slot in ("closed", "cross", "open")]
    assert np.isfinite(line["seconds"])
