"""A phone and its home over https: trusted, installed, used while home is dead, renamed; and the certificate ended."""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
from collections.abc import Iterator
from pathlib import Path

import hill_kit
import phone_kit
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from home_server import wait_for
from playwright.sync_api import BrowserContext, Page, Playwright, expect
from secure_home import SecureHome

BARN = "barn.local"
# Three pieces of an upload and a bit: over https the browser sends them by another protocol than over http.
A_LARGE_PHOTO = """
  const bytes = new Uint8Array(800000).map((_, at) => (at * 7919) % 251);
  const digest = await crypto.subtle.digest('SHA-256', bytes);
  const sha256 = Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, '0')).join('');
  const photos = [{sha256, bytes: bytes.buffer, type: 'image/jpeg'}];
  await store.saveChanges([{type: 'photo', set: {sha256}}], {photos});
  return sha256;
"""


def key_hash(certificate: x509.Certificate) -> str:
    """Return the SHA-256 of a certificate's public key, as Chromium wants it told."""
    key = certificate.public_key().public_bytes(
        serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    )
    return base64.b64encode(hashlib.sha256(key).digest()).decode()


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SecureHome]:
    with SecureHome(tmp_path_factory.mktemp("secure") / "data") as running:
        yield running


@pytest.fixture
def phone(
    playwright_driver: Playwright, chromium_path: str, chromium_args: list[str], home: SecureHome, tmp_path: Path
) -> Iterator[BrowserContext]:
    """A browser that trusts the home's authority, and finds names that end in .local on this machine."""
    context = playwright_driver.chromium.launch_persistent_context(
        tmp_path / "profile",
        executable_path=chromium_path,
        args=[
            *chromium_args,
            f"--ignore-certificate-errors-spki-list={key_hash(home.ca)}",
            "--host-resolver-rules=MAP *.local 127.0.0.1",
        ],
        viewport=hill_kit.PHONE,
    )
    context.set_default_timeout(15_000)
    yield context
    context.close()


def pair_with(home: SecureHome, page: Page) -> None:
    page.goto(f"{home.url}/#/pair/{home.pair_code()}")
    page.get_by_role("button", name="Pair this").click()
    expect(page).to_have_url(f"{home.url}/#/ground")


def test_phone_is_led_to_the_chosen_address_pairs_there_and_works_with_home_dead(
    home: SecureHome, phone: BrowserContext
) -> None:
    page = phone.pages[0]
    code = home.pair_code()
    # Opened by a name that works but was not chosen: before anything is kept here, it is led to the right one.
    page.goto(f"https://{BARN}:{home.port}/#/pair/{code}")
    expect(page).to_have_url(f"{home.url}/#/pair/{code}")
    assert page.evaluate("isSecureContext && Boolean(crypto.subtle)")
    page.get_by_role("button", name="Pair this").click()
    expect(page).to_have_url(f"{home.url}/#/ground")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    wait_for(lambda: page.evaluate("navigator.serviceWorker.controller !== null"), "the worker does not control")
    # Whoever comes back, for the other is not found, may stay; and is told what that means.
    page.goto(f"https://{BARN}:{home.port}/#/pair")
    expect(page.locator("[data-elsewhere]")).to_contain_text(home.url)

    page.goto(f"{home.url}/")
    home.kill()
    page.reload()
    expect(page.locator("#nav a").first).to_be_visible()
    (rec,) = phone_kit.save(page, phone_kit.tree("B7"))
    page.reload()
    assert phone_kit.record(page, rec)["fields"]["tag"] == "B7"
    home.start()
    sha256 = phone_kit.run(page, A_LARGE_PHOTO)
    wait_for(lambda: phone_kit.sync(page)["ok"], "home is not reached again")
    assert any(path.name == sha256 for path in (home.data / "blobs").rglob("*"))


def test_phone_is_told_of_a_new_name_and_of_a_certificate_that_ended(
    home: SecureHome, phone: BrowserContext, tmp_path: Path
) -> None:
    page = phone.pages[0]
    pair_with(home, page)
    old, verb = home.url, home.verb
    # Renamed: the phone gets home as before, keeps its log where it is, and is told.
    home.stop()
    home.verb = ("--name", "barn", *verb[2:])
    home.start()
    wait_for(lambda: phone_kit.sync(page)["ok"], "home is not reached again")
    page.goto(f"{old}/#/sync")
    expect(page.get_by_role("heading", name="Finding home")).to_be_visible()
    expect(page.locator("[data-reach]")).to_contain_text(f"opened at https://barn.local:{home.port}")

    # Home shows a certificate that the phone does not trust: at first that looks as if home were away ...
    home.stop()
    (home.data / "tls").rename(tmp_path / "tls")
    home.start()
    phone_kit.save(page, phone_kit.tree("B8"))
    assert "not in reach" in phone_kit.sync(page)["text"]
    page.get_by_text("Home runs, but is not reached?").click()
    expect(page.locator("[data-reach]")).to_contain_text("set it up once more")
    # ... and once the one it knew of has ended, it says so.
    page.clock.set_fixed_time(home.shown().not_valid_after_utc + dt.timedelta(days=1))
    said = phone_kit.sync(page)
    assert not said["ok"]
    assert "certificate ended on" in said["text"]
    expect(page.locator("#line")).to_contain_text("start Fellside at home anew")
    expect(page.locator("#line")).to_contain_text("home does not have 1 change yet")
