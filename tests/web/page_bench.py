"""What the tests of the page share: a bench with a register, the running command, short ways."""

import http.client
import os
import re
import signal
import subprocess
import sys
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode, urlsplit

from drawn import Clock, deliver

from stampreader.register import add_by_hand, open_register

RUNNER = Path(__file__).with_name("runner.py")
PICTURES = Path(__file__).resolve().parents[2] / "out" / "pages"
"""Where the tests leave screenshots, to be looked at."""
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]
WAIT_MS = 20_000


@dataclass
class Running:
    """The command at work: its links, and plain requests to it."""

    process: subprocess.Popen
    laptop: str
    phone: str = ""
    cookies: dict = field(default_factory=dict)

    def base(self, link):
        """First part of every path behind a link."""
        return "/" + urlsplit(link).path.split("/")[1]

    def enter(self, link):
        """Open a link and keep its key, without a browser."""
        answer = self.ask(link, urlsplit(link).path + "?" + urlsplit(link).query, bare=True)
        assert 303 == answer.status
        self.cookies[self.host(link)] = answer.headers["set-cookie"].split(";")[0]
        return self

    def host(self, link):
        """Host and port of a link."""
        return urlsplit(link).netloc

    def ask(self, link, path, method="GET", body=None, headers=None, *, bare=False, **form):
        """A request with the key, Host and Origin a browser would send, or as told.

        A path that begins with `~` lies behind the page's base.
        """
        host = self.host(link)
        path = self.base(link) + path[1:] if path.startswith("~") else path
        sent = {"Host": host}
        if host in self.cookies and not bare:
            sent["Cookie"] = self.cookies[host]
        if method == "POST":
            sent["Origin"] = f"http://{host}"
        if form:
            body = urlencode(form, doseq=True)
            sent["Content-Type"] = "application/x-www-form-urlencoded"
        sent.update(headers or {})
        wire = http.client.HTTPConnection(urlsplit(link).hostname, urlsplit(link).port, timeout=20)
        wire.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        for name, value in sent.items():
            for one in value if isinstance(value, list) else [value]:
                if one is not None:
                    wire.putheader(name, one)
        data = body.encode() if isinstance(body, str) else body
        if data is not None and "Transfer-Encoding" not in sent and "Content-Length" not in sent:
            wire.putheader("Content-Length", str(len(data)))
        wire.endheaders()
        try:
            if data is not None:
                wire.send(data)
        except (BrokenPipeError, ConnectionResetError):
            pass  # refused before all was sent; the answer says why
        answer = wire.getresponse()
        answer.text = answer.read().decode("utf-8", "replace")
        wire.close()
        return answer

    def photo(self, link, data, *, name="photo.jpg", path="~/camera", part=True, **fields):
        """Send a photo as a form would."""
        edge = "edge-of-a-part"
        parts = [
            f'--{edge}\r\nContent-Disposition: form-data; name="{key}"\r\n\r\n{value}\r\n'
            for key, value in fields.items()
        ]
        head = (
            f'--{edge}\r\nContent-Disposition: form-data; name="photo"; filename="{name}"\r\n'
            "Content-Type: image/jpeg\r\n\r\n"
        )
        body = "".join(parts).encode() + head.encode() + data + f"\r\n--{edge}--\r\n".encode()
        headers = {"Content-Type": f"multipart/form-data; boundary={edge}"}
        if part:
            headers["x-part"] = "1"
        return self.ask(link, path, "POST", body, headers)

    def kill(self):
        """Kill the program without warning."""
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()


class Bench:
    """A register with what waits in it, and the command over it."""

    def __init__(self, folder):
        self.folder = folder
        self.register = folder / "register.sqlite"
        self.photos = folder / "photos"
        self.clock = Clock()
        self.said = folder / "said.txt"
        self.windows = []

    def close_windows(self):
        """Close the browser's windows, before the program they talk to ends."""
        while self.windows:
            self.windows.pop().close()

    def deliver(self, count, **told):
        """Put equal connectors on the list; gives their keys."""
        with self.open(create=True) as book:
            return deliver(book, self.photos, count, clock=self.clock, **told)

    def open(self, **how):
        """The register itself."""
        return open_register(self.register, **how)

    @contextmanager
    def running(self, *options, phone=False, plugged=True, **environment):
        """The command, as long as the block lasts."""
        start = [str(RUNNER)] if plugged else ["-m", "stampreader"]
        words = ["review", "--no-open", "--who", "Ada", "--register", str(self.register), *options]
        if phone:
            words += ["--phone-address", "127.0.0.1"]
        with self.said.open("a", encoding="utf-8") as said:
            process = subprocess.Popen(
                [sys.executable, *start, *words],
                stdout=subprocess.PIPE,
                stderr=said,
                text=True,
                cwd=self.folder,
                env={**os.environ, "TMPDIR": str(self.folder), **environment},
                start_new_session=True,
            )
        try:
            links = [re.search(r"http://\S+", process.stdout.readline()) for _ in range(1 + phone)]
            assert all(links), self.said.read_text("utf-8")
            yield Running(process, *(found.group() for found in links))
        finally:
            self.close_windows()
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGKILL)
                process.wait()
            process.stdout.close()


def press(page, key):
    """Press a key, and wait for the page that follows, if any."""
    page.keyboard.press(key)
    page.wait_for_load_state("load")


def until(page, text, where="h1"):
    """Wait until a heading begins with a text, and the page's script has begun to work."""
    page.wait_for_function(
        """([where, text]) => document.documentElement?.dataset.ready
        && document.querySelector(where)?.innerText.trim().startsWith(text)""",
        arg=[where, text],
    )


def confirm(page):
    """Press Enter until everything was on the screen, then once more."""
    for _ in range(9):
        page.wait_for_timeout(500)
        done = page.locator("#confirm:not(.more)").count()
        press(page, "Enter")
        if done:
            return
    raise AssertionError("the group never came to be confirmed")


def enter(bench, id="C-0001", **fields):
    """Enter a connector by hand."""
    given = {"id": id, "closed_kN": "27", "cross_kN": "8", "open_kN": "7", **fields}
    with bench.open(create=True) as book:
        return add_by_hand(book, given, who="Ada", at=bench.clock()).connector


def record(bench, kind, uid, day, **body):
    """Record a life event."""
    with bench.open() as book:
        book.record(kind, uid, body, who="Ada", at=bench.clock(), happened_on=day)


def listening(pid):
    """Addresses a process listens on, as the kernel tells them (proc(5), /proc/net/tcp)."""
    sockets = {
        link.readlink().name
        for link in Path(f"/proc/{pid}/fd").iterdir()
        if link.is_symlink() and "socket:" in str(link.readlink())
    }
    found = []
    for table in ("tcp", "tcp6"):
        for row in Path(f"/proc/{pid}/net/{table}").read_text().splitlines()[1:]:
            cells = row.split()
            if cells[3] == "0A" and f"socket:[{cells[9]}]" in sockets:
                number = cells[1].split(":")[0]
                found.append(".".join(str(b) for b in reversed(bytes.fromhex(number))))
    return found
