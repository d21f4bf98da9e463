"""The page behind its guard in this process, for tests that ask it very many things."""

import asyncio
from contextlib import contextmanager
from datetime import UTC, datetime
from urllib.parse import quote

from page_bench import Bench

from stampreader.web.app import CONFIRMING, EVERYBODY, PHOTOS, make_app
from stampreader.web.guard import Gate
from stampreader.web.keys import Keyring, Terms
from stampreader.web.workplace import open_workplace

HOST = "127.0.0.1:4000"
BASE = "/base"


class NoCrew:
    """Stands in for the readers: no photo is ever read."""

    def read(self, path):
        """Never reached: what is sent is not a photo."""
        from stampreader.reading import Attempt, Failure

        return Attempt(str(path), failure=Failure("photo", "cannot read x: it is not a picture"))

    def glance(self, path, longest_px):
        """The same."""
        return self.read(path)

    def close(self):
        """Nothing to end."""


@contextmanager
def open_page(folder):
    """Asks the page (method, path, query, body, kind of body); gives the status and the text."""
    bench = Bench(folder)
    bench.deliver(3)
    bench.deliver(1, first=9, closed=("27", "ask", "ONE_READER"))
    bench.deliver(1, first=10, closed=None, cross=None, open=None, marks=())
    place = open_workplace(
        bench.register, create=False, who=lambda book: "Ada", clock=lambda: datetime.now(UTC),
        tell=lambda line: None, crew=NoCrew(), photos=bench.folder / "kept", delivery=None,
    )  # fmt: skip
    keys = Keyring(place.clock, Terms())
    own = keys.redeem(keys.link().key, "fuzz")
    gate = Gate(HOST, BASE, keys, True, EVERYBODY, CONFIRMING, PHOTOS)
    place.gates = [gate]
    app = make_app(place, gate)
    loop = asyncio.new_event_loop()

    async def one(method, path, query, body, kind):
        said = {"status": None, "text": b""}
        parts = [{"type": "http.request", "body": body, "more_body": False}]

        async def receive():
            return parts.pop(0) if parts else {"type": "http.disconnect"}

        async def send(message):
            said["status"] = message.get("status", said["status"])
            said["text"] += message.get("body", b"")

        headers = {"host": HOST, "cookie": f"key={own}", "origin": f"http://{HOST}",
                   "content-type": kind, "content-length": str(len(body))}  # fmt: skip
        await app(
            {
                "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1",
                "method": method, "scheme": "http", "path": path, "raw_path": quote(path).encode(),
                "query_string": query.encode(), "root_path": "", "server": ("127.0.0.1", 4000),
                "client": ("127.0.0.1", 1), "state": {},
                "headers": [(k.encode(), v.encode()) for k, v in headers.items()],
            },
            receive, send,
        )  # fmt: skip
        return said["status"], said["text"].decode("utf-8", "replace")

    try:
        yield lambda *request: loop.run_until_complete(one(*request))
    finally:
        place.close()
        loop.close()
