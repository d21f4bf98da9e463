"""The command `read` at the real prompt: output, exit statuses, bad input, pictures, interrupt."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import cv2
import jsonschema
import numpy as np
import pexpect
import pytest

pytestmark = pytest.mark.tesseract

SCHEMA = json.loads(
    (Path(__file__).parents[2] / "schema" / "reading.schema.json").read_text("utf-8")
)
COMMAND = [sys.executable, "-m", "stampreader", "read"]
FAST = ["--readers", "tesseract"]


def run(*arguments, **options):
    """Run the command and give what it did; text is UTF-8, broken bytes kept."""
    return subprocess.run(
        [*COMMAND, *map(str, arguments)],
        capture_output=True,
        encoding="utf-8",
        errors="surrogateescape",
        timeout=120,
        **options,
    )


def lines(done):
    """The JSON objects printed, each checked against the schema."""
    objects = [json.loads(line) for line in done.stdout.splitlines()]
    for thing in objects:
        jsonschema.validate(thing, SCHEMA)
    return objects


def printed(path, *rows):
    """A photo of a line or two of print."""
    ground = np.full((600, 1000), 190, np.uint8)
    for n, row in enumerate(rows):
        cv2.putText(ground, row, (80, 250 + 130 * n), cv2.FONT_HERSHEY_SIMPLEX, 1.8, 40, 4)
    cv2.imwrite(str(path), ground)
    return path


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Three photos, and one each of what can be wrong with a file."""
    place = tmp_path_factory.mktemp("bench")
    for n in (1, 2, 10):
        printed(place / f"{n}.jpg", "EN 362:2004/B", "CE 9123")
    whole = (place / "1.jpg").read_bytes()
    (place / "3.jpg").write_bytes(whole[: len(whole) // 2])
    (place / "4.jpg").write_bytes(b"")
    (place / "5.png").write_bytes(b"hello\n")
    return place


def test_json_in_input_order_with_errors(folder):
    """One object a photo in input order; errors are objects too; nothing else; exit status 1."""
    done = run(folder, folder / "gone.jpg", "--json", *FAST)
    objects = lines(done)
    names = ["1.jpg", "2.jpg", "3.jpg", "4.jpg", "5.png", "10.jpg", "gone.jpg"]
    assert [str(folder / name) for name in names] == [o["photo"] for o in objects]
    assert [0, 0, 1, 1, 1, 0, 1] == ["error" in o for o in objects]
    assert (1, "") == (done.returncode, done.stderr)


def test_table(folder):
    """Each photo has its three figures, its marks, what the standard demands, and a caution."""
    done = run(folder / "1.jpg", *FAST)
    assert 0 == done.returncode
    for words in ("closed", "cross", "open", "CE 9123", "demands at least", "calculation aid"):
        assert words in done.stdout
    assert "\x1b" not in done.stdout


def test_table_of_errors(folder):
    """A photo that cannot be read has its line in the table; the others are read."""
    done = run(folder / "4.jpg", folder / "1.jpg", *FAST)
    assert 1 == done.returncode
    assert "0 bytes" in done.stdout and "CE 9123" in done.stdout


@pytest.mark.parametrize(
    "arguments, words",
    [
        ([], "Missing argument"),
        (["a.jpg", "--jobs", "0"], "--jobs"),
        (["a.jpg", "--jobs", "many"], "--jobs"),
        (["a.jpg", "--readers", "crystal-ball"], "there is no reader crystal-ball"),
        (["a.jpg", "--picture", "a.pdf"], "Name it .jpg or .png"),
        (["a.jpg", "--nonsense"], "--nonsense"),
    ],
)
def test_wrong_usage(arguments, words):
    """Wrong usage is exit status 2, said on standard error, with nothing on standard output."""
    done = run(*arguments)
    assert (2, "") == (done.returncode, done.stdout)
    assert words in done.stderr and "Traceback" not in done.stderr


def test_folder_without_photos(tmp_path):
    """A folder without photos is one clear line and exit status 1."""
    done = run(tmp_path, "--json", *FAST)
    (thing,) = lines(done)
    assert 1 == done.returncode
    assert "there is no photo in the folder" in thing["error"]


def test_odd_file_names(tmp_path):
    """A name that is no UTF-8, or holds an escape sequence, comes back in JSON as it was given."""
    raw = os.path.join(os.fsencode(tmp_path), b"a\xff\x1b[31m.jpg")
    with open(raw, "wb") as file:
        file.write(b"no picture")
    (thing,) = lines(run(tmp_path, "--json", *FAST))
    assert raw == os.fsencode(thing["photo"])
    table = run(tmp_path, *FAST).stdout
    assert r"a\xff\x1b[31m.jpg" in table and "\x1b" not in table


def test_picture_of_one_photo(folder, tmp_path):
    """With one photo --picture names the file; the drawn picture can be opened."""
    done = run(folder / "1.jpg", "--picture", tmp_path / "drawn.png", *FAST)
    assert 0 == done.returncode
    assert cv2.imread(str(tmp_path / "drawn.png")).shape[1] >= 900


def test_pictures_of_several_photos(folder, tmp_path):
    """With several photos --picture names a folder; same names are numbered, none is lost."""
    (tmp_path / "more").mkdir()
    printed(tmp_path / "more" / "1.jpg", "CE 9123")
    photos = [folder / "1.jpg", folder / "2.jpg", tmp_path / "more" / "1.jpg"]
    done = run(*photos, "--picture", tmp_path / "drawn", "--json", *FAST)
    assert 0 == done.returncode and 3 == len(lines(done))
    assert ["1-2.read.jpg", "1.read.jpg", "2.read.jpg"] == sorted(
        p.name for p in (tmp_path / "drawn").iterdir()
    )


def test_picture_never_overwrites_a_photo(folder):
    """The photo itself is refused as the place of the picture, and one file for several photos."""
    before = (folder / "1.jpg").read_bytes()
    assert 2 == run(folder / "1.jpg", "--picture", folder / "1.jpg").returncode
    assert 2 == run(folder / "2.jpg", folder / "10.jpg", "--picture", folder / "1.jpg").returncode
    assert before == (folder / "1.jpg").read_bytes()


def test_one_file_for_several_photos(folder, tmp_path):
    """A name that ends as a picture's does is no folder to write several into."""
    done = run(folder / "1.jpg", folder / "2.jpg", "--picture", tmp_path / "drawn.jpg", *FAST)
    assert 2 == done.returncode
    assert "there are 2 photos" in done.stderr
    assert not (tmp_path / "drawn.jpg").exists()


def test_picture_that_cannot_be_written(folder, tmp_path):
    """A place that cannot be written is one line; it names the place."""
    (tmp_path / "file").write_text("no folder")
    done = run(folder / "1.jpg", "--picture", tmp_path / "file" / "a.jpg", *FAST)
    assert 2 == done.returncode
    assert "cannot write" in done.stderr and "Traceback" not in done.stderr


def test_jobs_give_the_same_results(folder):
    """One worker or three: the same readings in the same order."""
    one, three = (lines(run(folder, "--json", "--jobs", n, *FAST)) for n in (1, 3))
    for thing in (*one, *three):
        thing.pop("seconds", None)
    assert one == three


def gone(group, seconds):
    """Whether all processes of a group end within some seconds."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.1)
    return False


def test_interrupt(tmp_path):
    """Ctrl-C ends with 130, one line, no traceback, and no process left behind."""
    for n in range(60):
        printed(tmp_path / f"{n}.png", "CE 9123  EN 362:2004/B", "27 kN  8 kN  7 kN")
    with subprocess.Popen(
        [*COMMAND, str(tmp_path), "--json", "--jobs", "2", *FAST],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    ) as process:
        assert "photo" in process.stdout.readline()
        os.killpg(process.pid, signal.SIGINT)
        _, said = process.communicate(timeout=30)
    assert 130 == process.returncode
    assert "interrupted" in said and "Traceback" not in said
    assert gone(process.pid, seconds=10)


def test_closed_pipe(folder):
    """A reader of the output that goes away, as head does, causes no traceback."""
    done = subprocess.run(
        f"{' '.join(COMMAND)} {folder} --json --readers tesseract | head -n 1",
        shell=True,
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    assert 1 == len(done.stdout.splitlines())
    assert "Traceback" not in done.stderr and "Exception" not in done.stderr


def test_progress_only_on_a_terminal(folder, tmp_path):
    """On a terminal a bar counts the photos on standard error; the output stays clean."""
    out = tmp_path / "out.jsonl"
    words = f"{' '.join(COMMAND)} {folder} --json --readers tesseract > {out}"
    child = pexpect.spawn("bash", ["-c", words], encoding="utf-8", timeout=120)
    child.expect("Reading photos")
    child.expect("6/6")
    child.expect(pexpect.EOF)
    assert 6 == len(out.read_text("utf-8").splitlines())
    assert all(json.loads(line)["photo"] for line in out.read_text("utf-8").splitlines())
