"""Random requests to every route, each told by its seed; and what every answer has to be, whatever was asked.

Half of them are requests that a phone would make, with something in them changed: those get past the first refusals.
"""

from __future__ import annotations

import copy
import gzip
import io
import json
import random
import zlib
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import quote

from builders import OTHER_PHONE, SQUARE, a_change, a_leave, a_request, a_site, a_tree, an_id
from flask import Flask
from flask.testing import FlaskClient
from PIL import Image
from werkzeug.test import TestResponse

from field.services import keep_blob, pair
from field.web.app import HEADERS


def _small_picture() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (40, 30), "green").save(out, "JPEG")
    return out.getvalue()


SMALL = _small_picture()
OPEN = {"/api/hello", "/api/pair"}
NONE = "00000000-0000-4000-8000-000000000000"
ODD_PARTS = (
    "..", ".", "%2e%2e", "%2e%2e%2f%2e%2e%2fepoch", "..%5c..%5cepoch", "%00", "a%00b", "C:%5cx", "%2fetc%2fpasswd", "~",
    "a" * 5000, "%ff%fe", "%ed%a0%80", "%e2%80%ae", "0" * 64, "G" * 64, "-1", "'", "%22", "<script>",
    "%0d%0aX-Made: up", "nul", "con", "%25%32%65", "\N{KELVIN SIGN}", "*", ";", "..;", " ", "%20",
    NONE, NONE.upper(), "{}", "1e9",
)  # fmt: skip
ODD_VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2**31, 2**53, 2**63, 2**64, -(2**63) - 1, 10**400, 0.0, -0.0, 1e308, 5e-324, "",
    " ", "x", "\0", "\ud83d", "\N{RIGHT-TO-LEFT OVERRIDE}", "e\u0301" * 200, "x" * 70_000, "<script>", "../../x",
    "2027-02-30",
    "9999-12-31", "0000-00-00", "2027-03-01T09:00:00Z", "24:00", "NaN", "Infinity", "'; DROP TABLE journal; --",
    "$1", "%s%n", "{0}", [], {}, [[]], [None], {"": ""}, [1, "a", {}], {"__proto__": 1}, {"type": "Point"},
    SQUARE, NONE, NONE.upper(),
)  # fmt: skip
ODD_HEADERS: dict[str, tuple[str, ...]] = {
    "Content-Type": (
        "application/json",
        "text/html; charset=x",
        "multipart/form-data; boundary=",
        "\xff",
        "a/b;" * 300,
    ),
    "Content-Encoding": ("gzip", "br", "gzip, gzip", "identity", "\xff"),
    "Accept-Encoding": ("gzip", "gzip;q=nan", "*;q=0", ",,,,", "gzip;q=1e999"),
    "Accept": ("*/*;q=x", "\xff", "a" * 2000),
    "Range": ("bytes=0-", "bytes=5-1", "bytes=-99999999999", "bytes=0-0,2-3" + ",5-6" * 500, "lines=1-2", "bytes="),
    "If-Range": ("x", "Thu, 99 Foo 2027 00:00:00 GMT"),
    "If-None-Match": ("*", '"' + "0" * 64 + '"', "W/", '",",'),
    "If-Modified-Since": ("Thu, 01 Jan 1970 00:00:00 GMT", "yesterday", "99999999999"),
    "Upload-Offset": ("0", "-1", "1", "9" * 15, "9" * 400, "1e3", "\xb2", ""),
    "Upload-Length": ("0", "-1", "1", "9" * 15, "600000000", "0x10"),
    "Host": ("localhost", "elsewhere.example", "a b", "[::1", "127.0.0.1:99999", "", "\xff", "x" * 3000),
    "Origin": ("null", "http://localhost", "https://elsewhere.example", "http://[broken", "//"),
    "Sec-Fetch-Site": ("cross-site", "same-origin", "?"),
    "X-Forwarded-Host": ("elsewhere.example", "\xff", ","),
    "X-Forwarded-Proto": ("https", ",", "x"),
    "X-HTTP-Method-Override": ("DELETE", "GET"),
    "Cookie": ("fellside_owner=x", "fellside_owner=\xff", "=;=;=", "a=b; " * 2000),
    "Authorization": (
        "Bearer",
        "Bearer x",
        "Basic eDp5",
        "Bearer \xff\xfe",
        "Bearer " + "x" * 9000,
        "bearer\tx",
        "Digest",
    ),
    "Expect": ("100-continue", "x"),
}
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE", "HEAD", "OPTIONS", "TRACE", "PROPFIND", "get", "X" * 40)
QUERY = ("on", "paper", "size", "lang", "area", "exact", "photos", "x", "")
INSIDE = (
    "Traceback",
    "sqlite",
    "sqlalchemy",
    "psycopg",
    "SELECT ",
    "INSERT ",
    "werkzeug",
    "site-packages",
    ".py",
    "Error(",
)


@dataclass
class House:
    """An app with something of everything in it."""

    app: Flask
    token: str
    parts: list[str]  # ids and hashes that are here
    bodies: dict[str, list[dict[str, Any]]]  # rule -> what a phone would send
    files: list[tuple[str, bytes]]  # hash and content, of files that are not here yet
    let_in: set[tuple[str, str]] = field(default_factory=set)  # rule and method that answered more than a refusal
    statuses: dict[int, int] = field(default_factory=dict)


def a_house(app: Flask, device: str) -> House:
    """Pair a device with an app, put records and files into it, and tell what a phone would ask of it."""
    track = b'<?xml version="1.0"?><gpx version="1.1"><trk><trkseg>%s</trkseg></trk></gpx>' % (
        b'<trkpt lat="55.402" lon="-3.395"><time>2027-03-01T09:00:00Z</time></trkpt>' * 3
    )
    with app.app_context():
        token = pair.pair(pair.make_code()["code"], device, "Phone")["token"]
        pair.pair(pair.make_code()["code"], OTHER_PHONE, "Other")
        photo, walk, paper = (keep_blob.keep_bytes(data) for data in (SMALL, track, b"%PDF-1.4 x"))
    site, holder, leave, tree = (an_id() for _ in range(4))
    records = [
        ("site", site, a_site()),
        ("landholder", holder, {"name": "the farm", "role": "owner"}),
        ("leave", leave, a_leave(site=site, landholder=holder)),
        ("tree", tree, a_tree(site=site)),
        ("photo", an_id(), {"sha256": photo, "tree": tree, "size_bytes": len(SMALL)}),
        ("visit", an_id(), {"site": site, "on": "2027-03-01"}),
    ]
    ops = [a_change(fields, type=kind, rec=rec, dev=device, seq=n) for n, (kind, rec, fields) in enumerate(records, 1)]
    house = House(app, token, [photo, walk, paper, leave, site, holder, tree, OTHER_PHONE], {}, [])
    answer = app.test_client().post(
        "/api/sync", json=a_request(*ops, device=device), headers={"Authorization": f"Bearer {token}"}
    )
    assert answer.status_code == 200, answer.text
    copied = an_id()  # this phone under a name of its own
    app.test_client().post("/api/sync", json=a_request(device=copied), headers={"Authorization": f"Bearer {token}"})
    told = [{"sha256": photo, "name": "a.jpg"}, {"sha256": walk, "name": "walk.gpx"}]
    clock = {"clock_offset_s": 30, "zone": "Europe/London"}
    more = [
        a_change(fields, type=kind, rec=an_id(), dev=device, seq=n) for n, (kind, _, fields) in enumerate(records, 7)
    ]
    house.bodies = {
        "/api/pair": [
            {"code": "ABCD-EFGH", "device": an_id(), "name": "x"},
            {"passphrase": "wet boots by the stove", "device": an_id(), "name": "x"},
        ],
        "/api/sync": [a_request(*more, device=device), a_request(device=device, cursor=3, want=50)],
        "/api/sign-in": [{"passphrase": "wet boots by the stove"}],
        "/api/passphrase": [{"passphrase": "wet boots by the stove", "old": "wet boots by the stove"}],
        "/api/pair-code": [{"role": "record"}, {}],
        "/api/calendar": [{"alarm": "evening", "names": True}, {"alarm": "none"}],
        "/api/cards/<kind>/judge": [{"card": {"edit": {"traits": {"shade_weeks": {"value": 6, "why": "windy"}}}}}],
        "/api/cards/<kind>/copy": [{"kind": "yard-birch", "name": "Yard birch", "latin": "Betula ‘Yard’"}],
        "/api/weather/take-back": [{"batch": "2027-03-01T09:00:00.000Z 0a1b2c3d"}],
        "/api/intake/read": [
            {"files": told, **clock},
            {"files": told, "clock_photo": {"sha256": photo, "shown": "2027-03-01 09:00:00", "zone": "UTC"}},
        ],
        "/api/intake/save": [{"photos": [{**told[0], "tree": tree, "site": site}], "tracks": [told[1]], **clock}],
        "/api/intake/undo": [{"saved": [{"rec": an_id(), "type": "photo"}]}],
        "/api/kept-twice": [{"sha256": [photo, walk]}],
        "/api/own-token": [{"device": copied, "token": "c" * 43}],
        "/api/copy/<sha256>": [{"anyway": True}],
        "/api/forget/<uuid:landholder>": [{"keep": [], "also": []}, {"keep": [site], "also": [[site, "note"]]}],
        "/api/devices/<uuid:device>/role": [{"role": "record"}],
        "/api/devices/<uuid:device>/name": [{"name": "Lent"}],
        "/api/devices/<uuid:device>/revoke": [{"anyway": True}],
        "/api/paper/<kind>/<uuid:leave>.<form>": [
            {"words": {"opening": "Dear all", "closing": "Thanks", "landholder": "the farm"}},
            {},
        ],
    }
    return house


def ask(house: House, client: FlaskClient, seed: int, *, paired: bool) -> str:
    """Send the request of a seed and judge its answer; return what was asked, in a line.

    The routes come in turn, so that any run longer than their number has been to each.
    """
    dice = random.Random(seed)
    rules = sorted(
        ((rule, method) for rule in house.app.url_map.iter_rules() for method in rule.methods or ()),
        key=lambda one: (one[0].rule, one[1]),
    )
    rule, method = rules[seed % len(rules)]
    path = "".join(_part(house, dice, rule, is_name, text) for is_name, text in rule._trace)
    path = path[path.index("|") + 1 :] if "|" in path else path
    if dice.random() < 0.1:
        method = dice.choice(METHODS)
    query = "&".join(f"{dice.choice(QUERY)}={quote(_text(dice))}" for _ in range(dice.choice((0, 0, 0, 1, 2, 30))))
    headers = {"Authorization": f"Bearer {house.token}"} if paired else {}
    data = b""
    if "PATCH" in method and dice.random() < 0.8:
        data = dice.randbytes(dice.choice((0, 1, 100, 3000)))
        headers |= {"Content-Type": "application/partial-upload", "Upload-Offset": "0", "Upload-Length": str(len(data))}
    elif method == "PUT" and dice.random() < 0.8:
        data, headers["Content-Type"] = dice.choice((SMALL, SMALL[:300], dice.randbytes(3000))), "image/jpeg"
    elif method not in ("GET", "HEAD", "OPTIONS") or dice.random() < 0.1:
        data = _body(house, dice, rule.rule)
        headers["Content-Type"] = "application/json"
        if dice.random() < 0.2:
            data, headers["Content-Encoding"] = _packed(dice, data), "gzip"
    for name in dice.sample(sorted(ODD_HEADERS), dice.choice((0, 0, 1, 1, 3))):
        headers[name] = dice.choice(ODD_HEADERS[name])
    environ: dict[str, Any] = {}
    body: Any = data
    if (broken := dice.random()) < 0.15:
        body = None
        environ = {"wsgi.input": io.BytesIO(data)}
        if broken < 0.05:
            environ |= {"wsgi.input_terminated": True, "CONTENT_LENGTH": ""}  # chunked
        else:
            length = (str(len(data) + 5), "-1", "x", str(10**30), "0")[int(broken * 1000) % 5]
            environ |= {"wsgi.input_terminated": broken < 0.1, "CONTENT_LENGTH": length}
    who = "paired" if paired else "nobody"
    said = f"seed {seed}, {who}: {method} {path[:200]}?{query[:80]} {headers!r:.300} {data[:300]!r}"
    answer = client.open(
        path, method=method, query_string=query, headers=headers, data=body, environ_overrides=environ, buffered=True
    )
    house.statuses[answer.status_code] = house.statuses.get(answer.status_code, 0) + 1
    if paired and answer.status_code not in (401, 403, 405, 429) and method in (rule.methods or ()):
        house.let_in.add((rule.rule, method))
    judge(answer, said)
    if not paired and answer.request.path.startswith("/api") and answer.request.path not in OPEN:
        assert answer.status_code in (401, 404, 400, 308), said
    return said


def judge(answer: TestResponse, said: str) -> None:
    """Hold an answer to what every answer has to be."""
    told = f"{said}\n{answer.status} {answer.text[:500]}" if answer.status_code >= 400 else said
    assert answer.status_code < 500, told
    for name in HEADERS:
        assert name in answer.headers, (name, told)
    assert not any(name.lower().startswith("access-control-") for name, _ in answer.headers), told
    if answer.status_code < 400:
        return
    assert answer.headers["Cache-Control"] == "no-store", told
    text = gzip.decompress(answer.data).decode() if answer.headers.get("Content-Encoding") else answer.text
    for inside in INSIDE:
        assert inside not in text, told
    if answer.request.method == "HEAD":
        return
    if answer.request.path.startswith("/api/"):
        error = json.loads(text)["error"]
        assert set(error) == {"code", "message", "cure", "where"}, told
        assert error["message"].endswith("."), told
    else:
        assert text.startswith("<!doctype html>"), told


def _part(house: House, dice: random.Random, rule: Any, is_name: bool, text: str) -> str:
    if not is_name:
        return text
    if dice.random() < 0.35:
        return dice.choice(ODD_PARTS)
    if text == "kind" and rule.rule.startswith("/api/cards/"):
        return dice.choice(("birch", "ash", "default"))
    if text == "kind":
        return dice.choice(("leave", "signed", "report", "renewal"))
    if text == "form":
        return dice.choice(("pdf", "html"))
    if text in ("leave", "device", "landholder"):
        return dice.choice([one for one in house.parts if len(one) == 36])
    if text in ("filename", "name", "version") and not rule.rule.startswith("/api/"):
        return dice.choice(("js/main.js", "css/tokens.css", "js", "leaflet.css", "1.9", "sw.js"))
    return dice.choice([one for one in house.parts if len(one) == 64])


def _body(house: House, dice: random.Random, rule: str) -> bytes:
    if dice.random() < 0.1:
        return dice.choice((b"", b"null", b"[]", b"{", b'"\xff"', b"[" * 100_000, b'{"a":1e999}', dice.randbytes(200)))
    value = copy.deepcopy(dice.choice(house.bodies.get(rule) or [{}]))
    for _ in range(dice.choice((0, 1, 1, 1, 2, 5))):
        value = _changed(dice, value)
    text = json.dumps(value)
    if dice.random() < 0.05:
        text = text[: dice.randrange(len(text) + 1)]
    return text.encode()


def _changed(dice: random.Random, value: Any) -> Any:
    """Return a value with one place in it, anywhere below, made something else."""
    if isinstance(value, dict) and value and dice.random() < 0.93:
        name = dice.choice(sorted(value))
        if (what := dice.random()) < 0.07:
            del value[name]
        elif what < 0.12:
            value[_text(dice)[:100]] = dice.choice(ODD_VALUES)
        else:
            value[name] = _changed(dice, value[name])
        return value
    if isinstance(value, list) and value and dice.random() < 0.93:
        at = dice.randrange(len(value))
        if (what := dice.random()) < 0.07:
            value.append(copy.deepcopy(value[at]))
        else:
            value[at] = _changed(dice, value[at])
        return value
    if isinstance(value, str) and dice.random() < 0.4:
        at = dice.randrange(len(value) + 1)
        return value[:at] + _text(dice)[:50] + value[at + dice.randrange(2) :]
    if isinstance(value, int | float) and dice.random() < 0.4:
        return dice.choice((value + 1, -value, value * 10**9, str(value)))
    return copy.deepcopy(dice.choice(ODD_VALUES))


def _text(dice: random.Random) -> str:
    odd = [one for one in ODD_VALUES if isinstance(one, str) and "\ud83d" not in one and len(one) < 1000]
    return dice.choice(odd)


def _packed(dice: random.Random, data: bytes) -> bytes:
    packed = gzip.compress(data)
    return dice.choice((packed, packed, packed[:-3], packed + packed, zlib.compress(data), b"", gzip.compress(packed)))
