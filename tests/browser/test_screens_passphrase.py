"""House lets phones in and out: the passphrase set, asked for where home wants it, and a phone that may only record."""

from __future__ import annotations

import re

import hill_kit as kit
from home_server import RunningServer
from phone_kit import run
from playwright.sync_api import Browser, Page, expect

from field.services import pair
from field.store import db

GOOD = "wet boots by the stove"
LENT = "77777777-7777-4777-8777-777777777777"
THIRD = "66666666-6666-4666-8666-666666666666"


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def set_passphrase(page: Page, passphrase: str, again: str) -> None:
    page.get_by_label("New passphrase").fill(passphrase)
    page.get_by_label("The same once more").fill(again)
    press(page, "Set it")


def sign_in(page: Page, passphrase: str) -> None:
    dialog = page.locator("dialog")
    dialog.get_by_label("Passphrase", exact=True).fill(passphrase)
    dialog.get_by_role("button", name="Sign in").click()


def test_the_owner_lets_one_in_to_record(browser: Browser, empty_home: RunningServer) -> None:
    with kit.phone(browser, empty_home, viewport=kit.DESK, signal=True) as page:
        empty_home.post("/api/pair", {"code": empty_home.pair_code(), "device": LENT, "name": "Lent"})
        kit.go(page, "#/house")
        press(page, "Set a passphrase")
        set_passphrase(page, GOOD, "wet boots")
        expect(page.locator("dialog")).to_contain_text("The two are not the same")
        set_passphrase(page, GOOD, GOOD)
        expect(page.locator("[data-owner]")).to_contain_text("Signed in on this desk")
        expect(page.locator("[data-devices]")).to_contain_text("owner signed in")
        press(page, "Sign out")
        expect(page.locator("[data-owner]")).to_contain_text("A passphrase is set")

        # An act of the owner asks for the passphrase and goes on; given up, it does nothing.
        press(page, "Pair one that may record")
        press(page, "Not now")
        expect(page.locator(".pair-code")).to_have_count(0)
        press(page, "Pair one that may record")
        sign_in(page, "wrong words here")
        expect(page.locator("dialog")).to_contain_text("That passphrase is wrong.")
        sign_in(page, GOOD)
        expect(page.locator("[data-devices]")).to_contain_text("That phone may record")
        code = page.locator(".pair-code").inner_text()
        assert page.evaluate("document.cookie") == ""

        # A code that was used is shown no longer: it would mislead whoever is let in next.
        third = {"code": code, "device": THIRD, "name": "Test phone"}
        assert empty_home.post("/api/pair", third)["like"] == "Test phone 2"
        expect(page.locator("[data-devices]")).to_contain_text("Used by “Test phone” just now")
        expect(page.locator(".pair-code, img.qr")).to_have_count(0)
        press(page, "Make another code")
        expect(page.locator("[data-devices]")).to_contain_text("That phone may record")
        code = page.locator(".pair-code").inner_text()

        # Two that are called alike: another name is offered, and taken by a tap.
        press(page, "Change “Lent”")
        page.locator("dialog").get_by_label("Name").fill("test PHONE")
        press(page, "Save")
        expect(page.locator("#notices")).to_contain_text("It is called “test PHONE” now, and so is another.")
        press(page, "Call it “test PHONE 2”")
        expect(page.locator("[data-devices]")).to_contain_text("test PHONE 2")

        kit.sync(page)
        press(page, "Change “test PHONE 2”")
        page.locator("dialog").get_by_label("Name").fill("Lent to Anna")
        page.locator("dialog").get_by_label("Record", exact=True).check()
        press(page, "Save")
        expect(page.locator("[data-devices]")).to_contain_text(re.compile("Lent to Anna.*may record"))
        # This one told at its sync which version of the app it runs; the other never ran any.
        apps = [row.inner_text().count("has the newest app") for row in page.locator("[data-devices] li").all()]
        assert sum(apps) == 1

        # The last that may do everything goes only when it is meant.
        own = page.locator("[data-devices] li", has_text="(this one)")
        own.get_by_role("button", name="Shut out").click()
        press(page, "Shut it out")
        expect(page.locator("dialog")).to_contain_text("The last one that may do everything")
        press(page, "Not now")
        expect(own).to_contain_text("may do everything")

    context = browser.new_context(viewport=kit.PHONE)
    page = context.new_page()
    page.goto(f"{empty_home.url}/#/pair/{code}")
    page.get_by_role("button", name=re.compile("^Pair this")).click()
    expect(page.locator("#notices")).to_contain_text(
        "may record: it sees sites, where their trees stand, and its own work"
    )
    page.wait_for_url("**/#/ground")
    assert page.evaluate("navigation.entries().filter((one) => one.url.includes('pair')).length") == 0
    page.goto(f"{empty_home.url}/#/intake")
    page.wait_for_url("**/#/ground")
    expect(page.locator("#nav")).to_contain_text("Ground")
    expect(page.locator("#nav")).not_to_contain_text("Papers")
    page.goto(f"{empty_home.url}/#/house")
    expect(page.locator("[data-devices]")).to_contain_text("may record")
    expect(page.locator("[data-owner], [data-backup], [data-code]")).to_have_count(0)

    # What it may do is told with each sync, and home refuses the rest meanwhile.
    device = run(page, "return store.deviceId();")
    with db.alone(None, empty_home.data):
        pair.set_role(device, "full")
    assert run(page, "return (await sync.syncNow()).ok;")
    assert run(page, "return (await store.getIdentity()).role;") == "full"

    # A desk or phone of the owner is paired by the passphrase in place of a code.
    page.goto(f"{empty_home.url}/#/pair")
    press(page, "Use the owner’s passphrase instead")
    page.get_by_label("The owner’s passphrase").fill("wrong words here")
    page.get_by_role("button", name=re.compile("^Pair this")).click()
    expect(page.locator("form")).to_contain_text("That passphrase is wrong.")
    page.get_by_label("The owner’s passphrase").fill(GOOD)
    page.get_by_role("button", name=re.compile("^Pair this")).click()
    page.wait_for_url("**/#/ground")
    page.goto(f"{empty_home.url}/#/house")
    expect(page.locator("[data-owner]")).to_contain_text("Signed in on this")
    context.close()
