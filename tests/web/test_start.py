"""Starting and ending: the command, its addresses and codes, what is missing, what is in the way."""

import os
import signal
import socket
import subprocess
import sys

import pexpect
import pytest
from page_bench import RUNNER, listening

from stampreader.errors import UsageError
from stampreader.register import list_connectors
from stampreader.web import server
from stampreader.web.shelf import CannotKeep, Shelf


def told(bench, *words, **environment):
    """Run the command until it ends by itself; gives exit status and what it said."""
    done = subprocess.run(
        [sys.executable, str(RUNNER), "review", "--no-open", "--register", str(bench.register), *words],
        capture_output=True, text=True, timeout=60, env={**os.environ, **environment},
    )  # fmt: skip
    return done.returncode, done.stderr.strip()


def test_at_a_terminal_a_code_is_drawn(bench):
    """With a phone the terminal shows the address as a QR code; Ctrl-C ends it with 130."""
    bench.deliver(1)
    child = pexpect.spawn(
        sys.executable,
        [str(RUNNER), "review", "--no-open", "--register", str(bench.register),
         "--phone-address", "127.0.0.1"],
        encoding="utf-8", dimensions=(60, 200), timeout=30,
    )  # fmt: skip
    child.expect("Open in the browser on this computer: (http://127.0.0.1:\\S+)")
    child.expect("Scan with the phone: http://127.0.0.1:\\S+")
    child.expect("[█▄▀]{10}")
    child.expect("ends it")
    child.sendintr()
    child.expect(pexpect.EOF)
    child.close()
    assert 130 == child.exitstatus


def test_a_link_that_was_used_is_followed_by_a_new_one(bench):
    """After the browser was opened the terminal shows another link, for another try."""
    bench.deliver(1)
    with bench.running() as program:
        program.enter(program.laptop)
        program.process.stdout.readline()
        line = program.process.stdout.readline()
    assert line.startswith("Opened. To open it once more: http://127.0.0.1:")
    assert program.laptop not in line


def test_it_is_ended_from_the_page(bench, window):
    """Close on the page ends the program with 0."""
    bench.deliver(1)
    with bench.running() as program:
        page = window(program.laptop, allow=("ERR_",))
        page.keyboard.press("?")
        page.click("button[form=stop]")
        page.wait_for_selector("#stopped")
        assert 0 == program.process.wait(timeout=20)


def test_a_stop_from_outside_loses_nothing(bench):
    """Terminated by the system: it ends, and the register is whole."""
    bench.deliver(1)
    with bench.running() as program:
        program.enter(program.laptop)
        os.kill(program.process.pid, signal.SIGTERM)
        program.process.wait(timeout=20)
    with bench.open() as book:
        assert [] == list_connectors(book)


def test_without_a_register_the_person_is_told(bench):
    """No register and no phone: one clear line, exit status 1, and no file is made."""
    status, line = told(bench)
    assert 1 == status
    assert "there is no register" in line and "\n" not in line
    assert not bench.register.exists()


def test_a_taken_port_is_told(bench):
    """A port that is in use: one line, exit status 2."""
    bench.deliver(1)
    with socket.create_server(("127.0.0.1", 0)) as other:
        status, line = told(bench, "--port", str(other.getsockname()[1]))
    assert 2 == status
    assert "cannot listen on 127.0.0.1" in line and "\n" not in line


def test_an_address_of_another_computer_is_told(bench):
    """An address that is not this computer's own: one line, exit status 2."""
    bench.deliver(1)
    status, line = told(bench, "--phone-address", "192.0.2.7")
    assert 2 == status
    assert "192.0.2.7" in line and "--phone-address" in line


def test_a_missing_library_is_told(bench, tmp_path):
    """Without the extra `web` the command says how to install it."""
    bench.deliver(1)
    (tmp_path / "starlette.py").write_text("raise ModuleNotFoundError(name='starlette')", "utf-8")
    status, line = told(bench, PYTHONPATH=str(tmp_path))
    assert 1 == status
    assert 'pip install "stampreader[web]"' in line and "\n" not in line


def test_no_network_is_told(monkeypatch):
    """On no network at all there is no address for a phone."""

    class Nowhere(socket.socket):
        def connect(self, _):
            raise OSError(101, "Network is unreachable")

    monkeypatch.setattr(server.socket, "socket", Nowhere)
    with pytest.raises(UsageError, match="on no network"):
        server.local_address()


def test_the_phone_listens_on_the_one_address_given(bench):
    """With a phone there are two sockets: this computer's own, and the one address named."""
    bench.deliver(1)
    with bench.running("--phone-address", "127.0.0.2") as program:
        assert ["127.0.0.1", "127.0.0.2"] == sorted(listening(program.process.pid))


@pytest.mark.parametrize(("name", "value"), [("look", "purple"), ("keys", "maybe"), ("other", "x")])
def test_only_known_looks_are_kept(bench, name, value):
    """A look that does not exist is not kept, and a cookie that holds one is as if it were not."""
    bench.deliver(1)
    with bench.running() as program:
        program.enter(program.laptop)
        answer = program.ask(program.laptop, "~/looks", "POST", **{name: value})
        assert 303 == answer.status and "set-cookie" not in answer.headers
        cookie = program.cookies[program.host(program.laptop)] + f"; {name}={value}"
        text = program.ask(program.laptop, "~/deliveries", headers={"Cookie": cookie}).text
        assert 'data-look="auto" data-keys="on"' in text


def test_photos_that_cannot_be_kept_are_told(tmp_path):
    """A folder that cannot be made, or a full disk: an error in words, nothing half done."""
    (tmp_path / "taken").write_text("", "utf-8")
    shelf = Shelf(tmp_path / "taken")
    place = shelf.put_down((tmp_path / "taken").open("rb"))
    with pytest.raises(CannotKeep, match="cannot be kept"):
        shelf.keep(place, "a" * 64)
    shelf.close()
    with pytest.raises(CannotKeep):
        shelf.put_down((tmp_path / "taken").open("rb"))


def test_the_same_photo_is_kept_once(tmp_path):
    """Kept by content: twice the same is one file, with the ending its content has."""
    shelf = Shelf(tmp_path / "kept")
    source = tmp_path / "photo"
    for data, ending in ((b"\xff\xd8\xff\xe0", ".jpg"), (b"\x89PNG", ".png"), (b"what", ".photo")):
        source.write_bytes(data)
        for _ in range(2):
            with source.open("rb") as sent:
                kept = shelf.keep(shelf.put_down(sent), data.hex() * 8)
        assert ending == kept.suffix and data == kept.read_bytes()
    shelf.close()
    assert 3 == len(list((tmp_path / "kept").iterdir()))
