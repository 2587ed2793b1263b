"""What is open to anyone: the shell, the manifest, the worker; and the headers that every answer carries."""

from __future__ import annotations

import re
import struct
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent


@pytest.fixture
def database_url() -> None:
    """No record plays a part here: one engine is enough."""


def png_size(data: bytes) -> tuple[int, int]:
    """Return width and height of a PNG, from its first chunk (W3C PNG, 11.2.2)."""
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", data[16:24])
    return width, height


def test_first_page_is_the_shell(client) -> None:
    answer = client.get("/")
    assert answer.status_code == 200
    assert answer.mimetype == "text/html"
    assert '<link rel="manifest" href="/manifest.webmanifest">' in answer.text


def test_shell_has_no_inline_script_or_style(client) -> None:
    shell = client.get("/").text
    assert not re.search(r"<script(?![^>]*\bsrc=)", shell)
    assert not re.search(r"<style|\sstyle=|\son\w+=", shell)
    assert not re.search(r"https?://", shell)


def test_manifest_says_what_an_install_needs(client) -> None:
    answer = client.get("/manifest.webmanifest")
    assert answer.mimetype == "application/manifest+json"
    manifest = answer.get_json(force=True)
    assert manifest["name"] == "Fellside"
    assert (manifest["id"], manifest["start_url"], manifest["scope"]) == ("/", "/", "/")
    assert manifest["display"] == "standalone"
    assert "prefer_related_applications" not in manifest
    assert {(icon["sizes"], icon["purpose"]) for icon in manifest["icons"]} == {
        ("192x192", "any"),
        ("512x512", "any"),
        ("512x512", "maskable"),
    }


def test_icons_are_of_the_size_they_are_said_to_be(client) -> None:
    for icon in client.get("/manifest.webmanifest").get_json(force=True)["icons"]:
        answer = client.get(icon["src"], buffered=True)
        assert answer.mimetype == icon["type"]
        assert "{}x{}".format(*png_size(answer.data)) == icon["sizes"]


def test_touch_icon_is_180_wide(client) -> None:
    link = re.search(r'<link rel="apple-touch-icon" href="([^"]+)"', client.get("/").text)
    assert link is not None
    assert png_size(client.get(link.group(1), buffered=True).data) == (180, 180)


def test_manifest_has_the_colours_of_the_look(client) -> None:
    manifest = client.get("/manifest.webmanifest").get_json(force=True)
    tokens = (ROOT / "static" / "css" / "tokens.css").read_text(encoding="utf-8")
    paper = re.search(r"--paper: (#\w+)", tokens)
    assert paper is not None
    assert manifest["theme_color"] == manifest["background_color"] == paper.group(1)
    assert f'<meta name="theme-color" content="{paper.group(1)}" media="(prefers-color-scheme: light)">' in (
        client.get("/").text
    )


def test_search_engines_are_asked_to_stay_away(client) -> None:
    assert client.get("/robots.txt").text == "User-agent: *\nDisallow: /\n"


@pytest.mark.parametrize("address", ["/", "/sw.js", "/static/css/tokens.css", "/api/hello", "/api/devices", "/nothing"])
def test_every_answer_carries_the_strict_headers(client, address: str) -> None:
    headers = client.get(address, buffered=True).headers
    policy = dict(part.split(" ", 1) for part in headers["Content-Security-Policy"].split("; "))
    assert policy["default-src"] == "'self'"
    assert policy["object-src"] == "'none'"
    assert policy["frame-ancestors"] == "'none'"
    assert policy["img-src"] == "'self' blob: data:"
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "no-referrer"
    assert headers["Cross-Origin-Opener-Policy"] == "same-origin"
    assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert "camera=(self)" in headers["Permissions-Policy"]
    assert "geolocation=(self)" in headers["Permissions-Policy"]
    assert "none" in headers["X-Robots-Tag"]
    # With a home's own certificate this one would take every way back when the certificate breaks.
    assert "Strict-Transport-Security" not in headers


@pytest.mark.parametrize("address", ["/nothing", "/static/js/nothing.js", "/vendor/font/nothing.ttf"])
def test_a_wrong_address_gets_one_sentence(client, address: str) -> None:
    answer = client.get(address, buffered=True)
    assert answer.status_code == 404
    assert answer.mimetype == "text/html"
    assert len(re.findall(r"<p>", answer.text)) == 1
    assert "Traceback" not in answer.text
