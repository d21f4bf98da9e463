"""Finding photos in files and folders: order, endings, hidden and linked things, odd names."""

import os
from pathlib import Path

import pytest

from stampreader.errors import PhotoError
from stampreader.photo import find_photos, load_photo, printable


def touch(folder, *names):
    """Make empty files."""
    for name in names:
        place = folder / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.touch()


def test_folder_sorted_as_people_count(tmp_path):
    """2 comes before 10, subfolders are searched, other files, hidden and drawn ones are left out."""
    touch(
        tmp_path,
        "10.jpg",
        "2.JPG",
        "b/1.heic",
        "notes.txt",
        "2.read.jpg",
        ".hidden.jpg",
        ".cache/x.jpg",
    )
    assert ["2.JPG", "10.jpg", "b/1.heic"] == [
        p.relative_to(tmp_path).as_posix() for p in find_photos([tmp_path])
    ]


def test_order_given_is_kept(tmp_path):
    """Files and folders stay in the order the person gave them, a named file whatever its ending."""
    touch(tmp_path, "a/1.jpg", "z.jpg", "photo.dat")
    given = [tmp_path / "z.jpg", tmp_path / "a", tmp_path / "photo.dat"]
    expected = [tmp_path / "z.jpg", tmp_path / "a/1.jpg", tmp_path / "photo.dat"]
    assert expected == find_photos(given)


def test_missing_file_stays_in_the_list(tmp_path):
    """A name that does not exist is left for loading to complain about."""
    assert [tmp_path / "gone.jpg"] == find_photos([tmp_path / "gone.jpg"])


def test_folder_without_photos_says_so_when_loaded(tmp_path):
    """An empty folder stays in the list and its error line tells which endings are looked for."""
    touch(tmp_path, "notes.txt")
    assert [tmp_path] == find_photos([tmp_path])
    with pytest.raises(PhotoError) as raised:
        load_photo(tmp_path)
    assert "there is no photo in the folder" in raised.value.line()
    assert "JPEG" in raised.value.line()


def test_links_in_a_circle_end(tmp_path):
    """Folders linked in a circle are searched once; a link to itself is an error line."""
    touch(tmp_path, "a/1.jpg")
    (tmp_path / "a/back").symlink_to(tmp_path, target_is_directory=True)
    (tmp_path / "self.jpg").symlink_to(tmp_path / "self.jpg")
    assert ["a/1.jpg", "self.jpg"] == [
        p.relative_to(tmp_path).as_posix() for p in find_photos([tmp_path])
    ]
    with pytest.raises(PhotoError, match=r"cannot open|no file"):
        load_photo(tmp_path / "self.jpg")


def test_names_with_odd_bytes(tmp_path):
    """A name that is no UTF-8, or holds control characters, is found and can be printed."""
    raw = os.path.join(os.fsencode(tmp_path), b"a\xff\x07.jpg")
    with open(raw, "wb"):
        pass
    (found,) = find_photos([tmp_path])
    assert raw == os.fsencode(found)
    assert printable(found).endswith(r"a\xff\x07.jpg")
    with pytest.raises(PhotoError) as raised:
        load_photo(found)
    assert raised.value.line().isprintable() and raised.value.line().encode("utf-8")


@pytest.mark.parametrize(
    "path, expected",
    [
        ("plain.jpg", "plain.jpg"),
        ("naïve/ü.jpg", "naïve/ü.jpg"),
        ("a\x1b[31m.jpg", r"a\x1b[31m.jpg"),
    ],
)
def test_printable(path, expected):
    """Letters of any language stay; escape sequences for terminals do not get through."""
    assert expected == printable(Path(path))
