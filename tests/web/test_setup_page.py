"""The setup page: all a phone needs to trust its home, and nothing that anybody could misuse."""

from __future__ import annotations

import datetime as dt
import plistlib
import re

import pytest
from cryptography import x509

from field.services import home_ca, phone_setup
from field.web.setup_page import create_setup_app

NOW = dt.datetime(2027, 3, 4, tzinfo=dt.UTC)
ADDRESS = "https://hut.local:8420"
FIGURES = "https://192.168.1.20:8420"
PAGE = "http://192.168.1.20:8421/"


@pytest.fixture(scope="module")
def ca() -> x509.Certificate:
    return home_ca.make_ca(NOW, "hut").certificate


@pytest.fixture
def client(ca):
    app = create_setup_app(phone_setup.describe_setup(ca, ADDRESS, FIGURES, PAGE, "2028-04-02"))
    app.testing = True
    app.config["PROPAGATE_EXCEPTIONS"] = False
    return app.test_client()


def test_page_shows_the_figures_the_addresses_and_how_long(client, ca) -> None:
    page = client.get("/").text
    shown = "".join(re.findall(r"<span>([0-9A-F]{4})</span>", page))
    assert shown == home_ca.fingerprint(ca).replace(" ", "")
    for told in (ADDRESS, FIGURES, PAGE, "2028-04-02", "Certificate Trust Settings", "Install anyway"):
        assert told in page


def test_network_without_a_private_address_offers_none_in_figures(ca) -> None:
    app = create_setup_app(phone_setup.describe_setup(ca, ADDRESS, None, PAGE, "2028-04-02"))
    page = app.test_client().get("/").text
    assert "None" not in page
    assert "in figures" not in page


def test_android_gets_the_authority_in_der_and_without_its_key(client, ca) -> None:
    answer = client.get("/fellside-home.crt")
    assert answer.mimetype == "application/x-x509-ca-cert"
    assert answer.headers["Content-Disposition"] == 'attachment; filename="fellside-home.crt"'
    assert x509.load_der_x509_certificate(answer.data) == ca


def test_iphone_gets_the_same_authority_as_a_profile(client, ca) -> None:
    answer = client.get("/fellside-home.mobileconfig")
    assert answer.mimetype == "application/x-apple-aspen-config"
    profile = plistlib.loads(answer.data)
    # Apple Developer, Device Management, "TopLevel" and "CertificateRoot"
    assert (profile["PayloadType"], profile["PayloadVersion"]) == ("Configuration", 1)
    (root,) = profile["PayloadContent"]
    assert root["PayloadType"] == "com.apple.security.root"
    assert x509.load_der_x509_certificate(root["PayloadContent"]) == ca
    ids = [part[key] for part in (profile, root) for key in ("PayloadUUID", "PayloadIdentifier")]
    assert len(set(ids)) == 4
    assert client.get("/fellside-home.mobileconfig").data == answer.data  # installed twice it is still one


def test_page_is_whole_with_what_this_port_serves(client) -> None:
    page = client.get("/").text
    needed = re.findall(r'(?:<link[^>]+href|<img[^>]+src)="([^"]+)"', page)
    assert len(needed) >= 6
    for address in needed:
        answer = client.get(address, buffered=True)
        assert answer.status_code == 200, address
        text = answer.text if address.endswith(".css") else ""
        for inner in re.findall(r"url\('(/[^']+)'\)", text):
            assert client.get(inner, buffered=True).status_code == 200, inner


def test_page_has_nothing_inline_and_loads_nothing_from_elsewhere(client) -> None:
    page = client.get("/").text
    assert not re.search(r"<script|<style|\sstyle=|\son\w+=|<form|<input", page)
    assert not re.search(r'(?:src|<link[^>]+href)="https?:', page)


@pytest.mark.parametrize("address", ["/", "/qr.svg", "/fellside-home.crt", "/static/css/tokens.css", "/nothing"])
def test_every_answer_carries_the_strict_headers(client, address: str) -> None:
    headers = client.get(address, buffered=True).headers
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert "frame-ancestors 'none'" in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "no-referrer"
    assert "Strict-Transport-Security" not in headers


@pytest.mark.parametrize(
    "address",
    [
        "/api/hello", "/api/sync", "/sw.js", "/manifest.webmanifest", "/static/js/main.js", "/static/css/../js/main.js",
        "/static/%2e%2e/templates/setup.html", "/tls/authority.pem", "/vendor/font/../x", "/home.json",
    ],
)  # fmt: skip
def test_nothing_of_the_app_or_the_data_is_served_here(client, address: str) -> None:
    answer = client.get(address)
    assert answer.status_code in (404, 308)
    assert "Traceback" not in answer.text


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
def test_page_takes_nothing_in(client, method: str) -> None:
    assert client.open("/", method=method, data=b"x" * 10_000).status_code == 405


def test_strange_host_names_change_nothing_on_the_page(client) -> None:
    assert "evil.example" not in client.get("/", headers={"Host": "evil.example"}).text
