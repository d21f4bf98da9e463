"""Attacks on the page: each is tried on the running program and has to fail.

What is tried follows the OWASP cheat sheets on cross-site request forgery, DNS rebinding, file
upload and content security policy, and the HTTP fetch metadata headers (W3C).
"""

import contextlib
import http.client
import io
import re
import socket
import struct
import time
import zlib
from urllib.parse import urlsplit

import plug
import pytest
from drawn import jpeg, photo_of
from page_bench import Bench
from PIL import Image

from stampreader.register import check_register, waiting
from stampreader.web.guard import MOST_PHOTO_BYTES

PAGES = ("~/", "~/review?delivery=Spring", "~/deliveries", "~/phone", "~/camera", "~/look")
LEAKS = re.compile(
    r"Traceback|\.py\b|sqlite|site-packages|/tmp/|/home/|/root/|uvicorn|starlette", re.I
)
NOTHING = ""


@pytest.fixture
def program(bench):
    """The program with one connector waiting, its laptop and its phone let in."""
    bench.deliver(1)
    with bench.running(phone=True, RUNNER_SECONDS="4") as running:
        running.enter(running.laptop)
        running.enter(running.phone)
        yield running


@pytest.fixture(scope="module")
def quiet_bench(tmp_path_factory):
    """A bench for attacks that change nothing when they fail."""
    bench = Bench(tmp_path_factory.mktemp("quiet"))
    bench.deliver(1)
    return bench


@pytest.fixture(scope="module")
def quiet(quiet_bench):
    """One program for all attacks that change nothing when they fail."""
    with quiet_bench.running(phone=True, RUNNER_SECONDS="4") as running:
        running.enter(running.laptop)
        running.enter(running.phone)
        yield running


def photo_bytes(number=1, width=plug.SURE):
    """A photo the plugged readers see a stamp on."""
    return jpeg(photo_of(number, size=(width, 900))[0])


# --- keys -----------------------------------------------------------------------------------


@pytest.mark.parametrize("cookie", [None, "key=", "key=wrong", "key=" + "A" * 43, "kéy=ü"])
@pytest.mark.parametrize("path", ["~/", "~/page.css", "~/crop/" + "a" * 64, "~/nowhere", "/"])
def test_no_request_without_a_key(quiet, cookie, path):
    """Without the right key every address answers the same, existing or not."""
    headers = {} if cookie is None else {"Cookie": cookie.encode("latin-1")}
    answer = quiet.ask(quiet.laptop, path, headers=headers, bare=True)
    assert 403 == answer.status
    assert "opens only with a key" in answer.text


def test_a_link_opens_once(quiet):
    """The key in the address is used up by opening it; it is no session key either."""
    path = urlsplit(quiet.laptop).path + "?" + urlsplit(quiet.laptop).query
    assert 403 == quiet.ask(quiet.laptop, path, bare=True).status
    key = urlsplit(quiet.laptop).query.removeprefix("key=")
    assert 403 == quiet.ask(quiet.laptop, "~/", headers={"Cookie": f"key={key}"}, bare=True).status


def test_a_look_ahead_does_not_use_the_link_up(bench):
    """A browser that fetches the link before it is wanted leaves it good."""
    bench.deliver(1)
    with bench.running() as program:
        path = urlsplit(program.laptop).path + "?" + urlsplit(program.laptop).query
        early = {"Sec-Purpose": "prefetch;prerender"}
        assert 425 == program.ask(program.laptop, path, headers=early, bare=True).status
        assert 303 == program.ask(program.laptop, path, bare=True).status


def test_the_laptops_key_opens_nothing_on_the_phone_address(quiet):
    """A key holds at its own address only."""
    laptop = quiet.cookies[quiet.host(quiet.laptop)]
    phone = quiet.cookies[quiet.host(quiet.phone)]
    for link, cookie in ((quiet.phone, laptop), (quiet.laptop, phone)):
        assert 403 == quiet.ask(link, "~/camera", headers={"Cookie": cookie}, bare=True).status


def test_the_cookie_is_kept_from_scripts_and_other_programs(bench):
    """The key's cookie is HttpOnly, SameSite=Strict, and bound to the path only this page has."""
    bench.deliver(1)
    with bench.running() as running:
        parts = urlsplit(running.laptop)
        answer = running.ask(running.laptop, f"{parts.path}?{parts.query}", bare=True)
        cookie = answer.headers["set-cookie"]
        assert "HttpOnly" in cookie and "SameSite=strict" in cookie
        assert f"Path={running.base(running.laptop)}/" in cookie
        assert re.fullmatch(r"/[0-9a-f]{8}", running.base(running.laptop))
        assert NOTHING == answer.text and "key=" not in answer.headers["location"]


def test_no_page_holds_the_session_key(quiet):
    """The session's key stands in no page, so that nothing shown or saved gives it away."""
    for link, pages in ((quiet.laptop, PAGES), (quiet.phone, ("~/camera", "~/look"))):
        key = quiet.cookies[quiet.host(link)].removeprefix("key=")
        for path in pages:
            assert key not in quiet.ask(link, path).text


def test_a_phone_that_was_sent_away_is_out_at_once(program):
    """Revoked: the very next request of that phone is refused."""
    assert 200 == program.ask(program.phone, "~/camera").status
    program.ask(program.laptop, "~/phone", "POST", what="revoke", number="1")
    assert 403 == program.ask(program.phone, "~/camera").status
    assert 403 == program.photo(program.phone, photo_bytes()).status


def test_all_phones_and_the_code_are_voided_together(program, bench):
    """After sending all away the code that was shown opens nothing any more."""
    code = re.search(
        r"http://[^<\s]+/open\?key=[^<\s]+", program.ask(program.laptop, "~/phone").text
    )
    program.ask(program.laptop, "~/phone", "POST", what="revoke-all")
    path = urlsplit(code.group()).path + "?" + urlsplit(code.group()).query
    assert 403 == program.ask(program.phone, path, bare=True).status
    assert 403 == program.ask(program.phone, "~/camera").status


@pytest.mark.parametrize(
    ("path", "method"),
    [
        ("~/review?delivery=Spring", "GET"),
        ("~/review?delivery=Spring", "POST"),
        ("~/deliveries", "GET"),
        ("~/photo/1/0", "GET"),
        ("~/pulse?delivery=Spring", "GET"),
        ("~/phone", "GET"),
        ("~/phone", "POST"),
        ("~/stop", "POST"),
        ("~//review?delivery=Spring", "GET"),
    ],
)
def test_a_phone_cannot_do_what_is_the_laptops(quiet, path, method):
    """A phone takes photos and looks up; it neither confirms nor manages until it is allowed to."""
    answer = quiet.ask(quiet.phone, path, method, body="" if method == "POST" else None)
    assert 403 == answer.status


def test_a_phone_that_may_confirm_still_manages_nothing(program):
    """Allowed to confirm, a phone still lets nobody in and does not end the program."""
    program.ask(program.laptop, "~/phone", "POST", what="allow", number="1")
    assert 200 == program.ask(program.phone, "~/review?delivery=Spring").status
    for path in ("~/phone", "~/stop"):
        assert 403 == program.ask(program.phone, path, "POST", body="").status


# --- other sites ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "host",
    ["evil.example", "127.0.0.1", "localhost:80", "127.0.0.1.evil.example", "", ["a", "b"]],
)
def test_dns_rebinding_is_refused(quiet, host):
    """A name that was made to point here is not answered: the Host has to be ours exactly."""
    answer = quiet.ask(quiet.laptop, "~/", headers={"Host": host})
    assert answer.status in (400, 421)
    assert "<" not in answer.text


def test_two_hosts_are_refused(quiet):
    """Two Host headers, one of them right, are refused (RFC 9112, section 3.2)."""
    host = quiet.host(quiet.laptop)
    assert 400 <= quiet.ask(quiet.laptop, "~/", headers={"Host": [host, "evil.example"]}).status


@pytest.mark.parametrize(
    "origin",
    [None, "null", "http://evil.example", "https://{host}", "http://{host}.evil.example",
     "http://127.0.0.1", ["http://{host}", "http://evil.example"]],
)  # fmt: skip
def test_posts_from_other_pages_are_refused(quiet, quiet_bench, origin):
    """A post without our own Origin decides nothing, even with the key."""
    host = quiet.host(quiet.laptop)
    named = [o.format(host=host) for o in origin] if isinstance(origin, list) else origin
    named = named.format(host=host) if isinstance(named, str) else named
    body = f"decision=confirm&seen=1&token={token_of(quiet)}"
    answer = quiet.ask(
        quiet.laptop, "~/review?delivery=Spring", "POST", body,
        headers={"Origin": named, "Content-Type": "application/x-www-form-urlencoded"},
    )  # fmt: skip
    assert 403 == answer.status
    with quiet_bench.open() as book:
        assert 1 == len(waiting(book))


def token_of(program):
    """The token of the question that is shown."""
    text = program.ask(program.laptop, "~/review?delivery=Spring").text
    return re.search(r'name="token" value="([0-9a-f]{32})"', text).group(1)


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
@pytest.mark.parametrize("mode", ["no-cors", "cors", "websocket"])
def test_pictures_are_not_lent_to_other_pages(quiet, site, mode):
    """Another page, even of another port here, can load nothing of ours into itself."""
    headers = {"Sec-Fetch-Site": site, "Sec-Fetch-Mode": mode}
    assert 403 == quiet.ask(quiet.laptop, "~/page.css", headers=headers).status


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "PATCH", "TRACE", "CONNECT"])
def test_other_methods_are_refused(quiet, method):
    """Only GET, HEAD and POST are known; a preflight gets no permission."""
    answer = quiet.ask(quiet.laptop, "~/", method)
    assert answer.status in (400, 405)
    assert "access-control-allow-origin" not in answer.headers


def test_an_answer_has_to_name_the_question(quiet, quiet_bench):
    """A forged token, or evidence that was not shown, confirms nothing."""
    for token, seen in (("0" * 32, "1"), (token_of(quiet), ""), (token_of(quiet), "2,3")):
        answer = quiet.ask(
            quiet.laptop, "~/review?delivery=Spring", "POST",
            decision="confirm", token=token, seen=seen,
        )  # fmt: skip
        assert 409 == answer.status
    with quiet_bench.open() as book:
        assert 1 == len(waiting(book))


# --- what pages may do ----------------------------------------------------------------------


def test_every_answer_carries_a_strict_policy(quiet):
    """Scripts, styles and pictures only from here; nothing inline; not to be framed."""
    for path in (*PAGES, "~/page.js", "~/nowhere", "/"):
        headers = quiet.ask(quiet.laptop, path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy and "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy and "*" not in policy and "http" not in policy
        assert "nosniff" == headers["x-content-type-options"]
        assert "DENY" == headers["x-frame-options"]
        assert "server" not in headers


def test_no_page_holds_script_or_style_or_an_outside_address(quiet):
    """Pages hold no inline script, no style attribute, no handler, and no address elsewhere."""
    for path in (*PAGES, "~/look?id=C-1", "~/whole/1/0", "~/page.css", "~/page.js"):
        text = quiet.ask(quiet.laptop, path).text
        host = quiet.host(quiet.laptop)
        outside = [a for a in re.findall(r"https?://[^\s\"'<)]+", text) if host not in a]
        assert [] == [a for a in outside if quiet.host(quiet.phone) not in a and "w3.org" not in a]
        assert not re.search(r"<script(?![^>]*src=)|<style|\sstyle=|\son[a-z]+=", text)


def test_texts_are_shown_as_texts(bench):
    """Markup in names of deliveries, files, marks, serials and notes is shown, never obeyed."""
    evil = "<img src=x onerror=alert(1)>\"'&"
    bench.deliver(1, delivery=evil, marks=(evil,), serial=evil)
    with bench.running() as program:
        program.enter(program.laptop)
        from urllib.parse import quote

        text = program.ask(program.laptop, f"~/review?delivery={quote(evil)}").text
        assert "<img src=x" not in text
        assert 3 <= text.count("&lt;img src=x onerror=alert(1)&gt;&#34;&#39;&amp;")


def test_a_question_typed_into_an_address_is_shown_as_text(quiet):
    """Markup in an address comes back escaped, if at all."""
    answer = quiet.ask(quiet.laptop, "~/look?id=%3Cscript%3Ealert(1)%3C/script%3E")
    assert 422 == answer.status
    assert "<script>alert" not in answer.text


# --- files ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "path",
    [
        "~/../../../../etc/passwd",
        "~/crop/../../../../etc/passwd",
        "~/crop/..%2f..%2f..%2fetc%2fpasswd",
        "~/crop/%2e%2e/%2e%2e/etc/passwd",
        "~/page.css/../../app.py",
        "~/page.css%00.html",
        "~/static/page.css",
        "~//etc/passwd",
        "~/photo/1/../../../etc/passwd",
        "~/photo/999999999999999999999/0",
        "~/photo/1/99999999999999999999",
        "~/whole/-1/0",
        "~/crop/" + "A" * 64,
        "~/crop/" + "a" * 64,
    ],
)
def test_no_path_leads_to_a_file(quiet, path):
    """Addresses that try to climb, or name what is not there, find nothing and tell nothing."""
    answer = quiet.ask(quiet.laptop, path)
    assert answer.status in (400, 403, 404)
    assert "root:" not in answer.text
    assert not LEAKS.search(answer.text)


@pytest.mark.parametrize(
    "name", ["../../../evil.jpg", "/etc/cron.d/evil", "C:\\evil.jpg", "a\x00b"]
)
def test_the_name_of_a_sent_file_is_never_used(program, bench, name):
    """The phone's name for a photo goes nowhere: not to the disk, not to the register."""
    assert 200 == program.photo(program.phone, photo_bytes(), name=name).status
    kept = [p.name for p in bench.folder.rglob("*") if p.is_file()]
    assert not [n for n in kept if "evil" in n]
    with bench.open() as book:
        assert not [a for a in waiting(book) for s in a.seen if "evil" in s.path]


def test_a_photo_that_was_replaced_is_not_shown(program, bench):
    """A file that now has other content than when it was read is not shown as the photo."""
    assert 200 == program.ask(program.laptop, "~/photo/1/0").status
    (bench.photos / "001.jpg").write_bytes(photo_bytes(7))
    answer = program.ask(program.laptop, "~/photo/1/0")
    assert 404 == answer.status
    assert "no longer where it was read" in answer.text


# --- uploads --------------------------------------------------------------------------------


def bomb():
    """A PNG of a few kilobytes that claims 60,000 × 60,000 pixels."""

    def chunk(kind, data):
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 0, 0, 0, 0)
    rows = zlib.compress(b"\0" * 600_000, 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def gif_of_many():
    """A GIF with 400 pictures."""
    frames = [Image.new("P", (64, 64), n % 256) for n in range(400)]
    out = io.BytesIO()
    frames[0].save(out, "GIF", save_all=True, append_images=frames[1:])
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "No photo came"),
        (b"GET / HTTP/1.1\r\n\r\n", "not a picture"),
        (b"\xff\xd8\xff" + b"\0" * 2000, "cannot be read"),
        (photo_bytes()[:9000], "cut short"),
        (bomb(), "pixels"),
        (b"%PDF-1.7 " + b"x" * 5000, "not a picture"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", "not a picture"),
        (photo_bytes(1, plug.CRASH), "crashed"),
        (photo_bytes(1, plug.HANG), "longer than"),
        (photo_bytes(1, plug.RAISE), "See the terminal"),
    ],
    ids=["empty", "text", "broken", "cut short", "bomb", "pdf", "svg", "crash", "hang", "fault"],
)  # fmt: skip
def test_hostile_photos_are_refused_in_a_line(program, bench, data, told):
    """Each gets one clear line that leaks nothing; the program goes on, nothing is stored."""
    answer = program.photo(program.phone, data)
    assert told in answer.text
    assert not LEAKS.search(answer.text)
    assert "secret" not in answer.text
    with bench.open() as book:
        assert 1 == len(waiting(book))
    assert "27 / 8 / 7" in program.photo(program.phone, photo_bytes(5)).text


def test_only_the_first_picture_of_a_file_is_read(program):
    """A file of 400 pictures costs no more than one."""
    began = time.monotonic()
    assert 200 == program.photo(program.phone, gif_of_many()).status
    assert time.monotonic() - began < 10


def test_too_large_is_refused_before_it_is_sent(quiet):
    """A length over the limit is refused at once, without waiting for the bytes."""
    parts = urlsplit(quiet.phone)
    with socket.create_connection((parts.hostname, parts.port), timeout=10) as wire:
        wire.sendall(
            f"POST {quiet.base(quiet.phone)}/camera HTTP/1.1\r\nHost: {parts.netloc}\r\n"
            f"Origin: http://{parts.netloc}\r\nCookie: {quiet.cookies[parts.netloc]}\r\n"
            f"Content-Length: {MOST_PHOTO_BYTES + 1}\r\n\r\n".encode()
        )
        assert b" 413 " in wire.recv(200)


def chunked(program, link, path, total, head=b"", part=1 << 20):
    """Send a body without telling its length; gives the status line, or what broke."""
    parts = urlsplit(link)
    with socket.create_connection((parts.hostname, parts.port), timeout=15) as wire:
        wire.sendall(
            f"POST {program.base(link)}{path} HTTP/1.1\r\nHost: {parts.netloc}\r\n"
            f"Origin: http://{parts.netloc}\r\nCookie: {program.cookies[parts.netloc]}\r\n"
            "Content-Type: multipart/form-data; boundary=edge\r\n"
            "x-part: 1\r\nTransfer-Encoding: chunked\r\n\r\n".encode()
        )
        try:
            body = head
            while total > 0:
                wire.sendall(f"{len(body):x}\r\n".encode() + body + b"\r\n")
                total -= len(body)
                body = b"x" * part
            wire.sendall(b"0\r\n\r\n")
        except (BrokenPipeError, ConnectionResetError):
            pass
        try:
            return wire.recv(400)
        except ConnectionResetError:
            return b"reset"


HEAD = (
    b'--edge\r\nContent-Disposition: form-data; name="photo"; filename="a.jpg"\r\n'
    b"Content-Type: image/jpeg\r\n\r\n"
)


def test_an_endless_upload_is_cut_off(quiet):
    """A body that goes on past the limit is cut off, and the quiet goes on."""
    answer = chunked(quiet, quiet.phone, "/camera", MOST_PHOTO_BYTES + (8 << 20), HEAD)
    assert b" 413 " in answer or answer == b"reset"
    assert 200 == quiet.ask(quiet.phone, "~/camera").status


def test_forms_are_small(quiet):
    """An address that takes no photo takes no large body either."""
    answer = chunked(quiet, quiet.laptop, "/review?delivery=Spring", 1 << 20, part=1 << 15)
    assert b" 200 " not in answer and b" 303 " not in answer
    assert 200 == quiet.ask(quiet.laptop, "~/review?delivery=Spring").status


@pytest.mark.parametrize(
    "headers",
    [
        {"Content-Encoding": "gzip"},
        {"Content-Length": "-1"},
        {"Content-Length": "1e9"},
        {"Content-Type": "multipart/form-data"},
        {"Content-Type": "multipart/form-data; boundary="},
        {"Content-Type": "application/json"},
    ],
    ids=str,
)
def test_odd_bodies_are_refused(quiet, headers):
    """Compressed, unmeasured or unmarked bodies are refused and harm nothing."""
    answer = quiet.ask(
        quiet.phone, "~/camera", "POST", b"x" * 100, headers={"x-part": "1", **headers}
    )
    assert 400 <= answer.status < 500
    assert not LEAKS.search(answer.text)


def test_many_files_and_fields_are_refused(quiet, quiet_bench):
    """One photo a form: more files, or hundreds of fields, are refused."""
    two = photo_bytes() + b"\r\n--edge-of-a-part\r\n" + HEAD.split(b"\r\n", 1)[1] + photo_bytes(2)
    assert 400 <= quiet.photo(quiet.phone, two).status
    fields = {f"f{n}": "x" for n in range(300)}
    assert 400 <= quiet.photo(quiet.phone, photo_bytes(), **fields).status
    with quiet_bench.open() as book:
        assert 1 == len(waiting(book))


@pytest.mark.parametrize("share", [0.01, 0.3, 0.97])
def test_an_upload_cut_off_anywhere_does_no_harm(program, bench, share):
    """The connection breaks in the middle: nothing is stored, nothing is left lying about."""
    parts = urlsplit(program.phone)
    body = HEAD + photo_bytes() + b"\r\n--edge--\r\n"
    with socket.create_connection((parts.hostname, parts.port), timeout=10) as wire:
        wire.sendall(
            f"POST {program.base(program.phone)}/camera HTTP/1.1\r\nHost: {parts.netloc}\r\n"
            f"Origin: http://{parts.netloc}\r\nCookie: {program.cookies[parts.netloc]}\r\n"
            f"Content-Type: multipart/form-data; boundary=edge\r\nContent-Length: {len(body)}\r\n\r\n"
            .encode() + body[: int(len(body) * share)]
        )  # fmt: skip
        wire.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    assert "27 / 8 / 7" in program.photo(program.phone, photo_bytes(3)).text
    with bench.open() as book:
        assert 2 == len(waiting(book))
    assert 1 == len(list((bench.folder / "register-photos").iterdir()))
    assert [] == list(bench.folder.glob("stampreader-*/*"))


def test_a_kill_while_a_photo_is_read_does_no_harm(bench):
    """Killed in the middle of a photo: the register is whole, and the same photo can be sent again."""
    from threading import Thread

    with bench.running("--delivery", "Spring", phone=True) as program:
        program.enter(program.phone)

        def send_one():
            with contextlib.suppress(OSError, http.client.HTTPException):
                program.photo(program.phone, photo_bytes(1, plug.HANG))

        sending = Thread(target=send_one)
        sending.start()
        time.sleep(1)
        program.kill()
        sending.join(timeout=20)
    with bench.running("--delivery", "Spring", phone=True) as program:
        program.enter(program.phone)
        assert "27 / 8 / 7" in program.photo(program.phone, photo_bytes()).text
    with bench.open() as book:
        assert 1 == len(waiting(book))
        assert [] == list(check_register(book))


def test_a_key_sends_so_many_photos_and_no_more():
    """A phone's key is good for a number of photos; then it has to scan again."""
    from datetime import UTC, datetime

    from stampreader.web.keys import Session
    from stampreader.web.pages_phone import _a_turn
    from stampreader.web.refusals import TooMany
    from stampreader.web.workplace import MOST_AT_ONCE, MOST_PHOTOS

    class Place:
        under_way = 0

    now = datetime.now(UTC)
    session = Session(1, "phone", now, now, False)
    for _ in range(MOST_PHOTOS):
        with _a_turn(Place, session):
            pass
    with pytest.raises(TooMany, match="this key has sent"), _a_turn(Place, session):
        pass
    Place.under_way = MOST_AT_ONCE
    with (
        pytest.raises(TooMany, match="several photos"),
        _a_turn(Place, Session(2, "p", now, now, False)),
    ):
        pass


# --- denial ---------------------------------------------------------------------------------


def test_a_phone_address_full_of_idle_connections_leaves_the_laptop_alone(quiet):
    """Hundreds of half-open requests at the phone's address: the laptop's page still answers."""
    parts = urlsplit(quiet.phone)
    idle = []
    try:
        for _ in range(200):
            wire = socket.create_connection((parts.hostname, parts.port), timeout=5)
            wire.sendall(b"GET / HTTP/1.1\r\nHost:")
            idle.append(wire)
        began = time.monotonic()
        assert 200 == quiet.ask(quiet.laptop, "~/deliveries").status
        assert time.monotonic() - began < 5
    finally:
        for wire in idle:
            wire.close()
    assert 200 == quiet.ask(quiet.phone, "~/camera").status


def test_a_huge_header_or_address_is_refused(quiet):
    """Headers and addresses beyond any browser's are refused."""
    assert 400 <= quiet.ask(quiet.laptop, "~/", headers={"X-Long": "x" * 100_000}).status < 500
    assert 400 <= quiet.ask(quiet.laptop, "~/?" + "x" * 8000).status < 500


def test_nonsense_on_the_wire_is_refused(quiet):
    """Bytes that are no HTTP get a refusal or silence, and the quiet goes on."""
    parts = urlsplit(quiet.laptop)
    for nonsense in (
        b"\x16\x03\x01\x02\x00\x01\x00",
        b"\0" * 5000,
        b"GET\r\n\r\n",
        b"PRI * HTTP/2.0\r\n\r\n",
    ):
        with socket.create_connection((parts.hostname, parts.port), timeout=5) as wire:
            wire.sendall(nonsense)
            wire.shutdown(socket.SHUT_WR)
            assert b" 200 " not in wire.recv(2000)
    assert 200 == quiet.ask(quiet.laptop, "~/deliveries").status


def test_a_websocket_is_refused(quiet):
    """No socket can be upgraded."""
    headers = {"Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13",
               "Sec-WebSocket-Key": "AAAAAAAAAAAAAAAAAAAAAA=="}  # fmt: skip
    assert http.client.SWITCHING_PROTOCOLS != quiet.ask(quiet.laptop, "~/", headers=headers).status


# --- what errors tell -----------------------------------------------------------------------


def test_a_locked_register_leaks_nothing(program, bench):
    """A register that is written by another process: a line without the place of the file."""
    token = token_of(program)
    with bench.open() as other:
        other.db.conn.execute("BEGIN IMMEDIATE")
        answer = program.ask(
            program.laptop, "~/review?delivery=Spring", "POST",
            decision="confirm", token=token, seen="1",
        )  # fmt: skip
        other.db.conn.execute("ROLLBACK")
    assert 503 == answer.status
    assert "being written by another window" in answer.text
    assert str(bench.folder) not in answer.text
    answer = program.ask(
        program.laptop, "~/review?delivery=Spring", "POST",
        decision="confirm", token=token, seen="1",
    )  # fmt: skip
    assert 303 == answer.status


def test_a_damaged_picture_leaks_nothing(program, bench):
    """An evidence picture altered behind the program's back is not shown, and nothing is told."""
    crop = re.search(
        r"/crop/([0-9a-f]{64})", program.ask(program.laptop, "~/review?delivery=Spring").text
    )
    with bench.open() as book:
        book.db.conn.execute("DROP TRIGGER crops_are_not_changed")
        book.db.conn.execute("UPDATE crops SET picture = x'00'")
    answer = program.ask(program.laptop, f"~/crop/{crop.group(1)}")
    assert 404 == answer.status
    assert not LEAKS.search(answer.text)


def test_a_fault_of_ours_leaks_nothing(program, bench):
    """A reading that cannot be understood any more: a plain line here, the details at the terminal."""
    with bench.open() as book:
        book.db.conn.execute("DROP TRIGGER readings_are_not_changed")
        book.db.conn.execute("UPDATE readings SET body = '{\"secret\": 1}'")
    answer = program.ask(program.laptop, "~/review?delivery=Spring")
    assert 500 == answer.status
    assert "secret" not in answer.text
    assert not LEAKS.search(answer.text)
