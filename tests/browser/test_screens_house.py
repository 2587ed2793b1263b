"""House tells how home is backed up: what home says, as a state; and what was heard last, where home is away."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from backup_kit import fill
from flask import Flask
from hill_kit import PHONE, go
from home_server import RunningServer, wait_for
from phone_kit import call, run
from playwright.sync_api import Browser, Page, expect

from field.services.backup_daily import try_due
from field.services.house import tell_house

NOON = dt.datetime(2026, 11, 26, 12, 0, tzinfo=dt.UTC)
NOON_MS = 1_795_694_400_000  # date -u -d 2026-11-26T12:00:00Z +%s
GOOD: dict[str, Any] = {
    "backup_ok": True,
    "last_backup_at": "2026-11-26T12:00:00.000Z",
    "last_backup_file": "/disk/shelf/a.zip",
    "backups_dir": "/disk/shelf",
    "why_not": None,
    "free_bytes": 90_000_000_000,
    "backups_free_bytes": None,
}


@pytest.fixture
def database_url() -> None:
    """SQLite alone: the words of the page are the same whatever home's books lie in."""


def states(page: Page, cases: list[tuple[dict[str, Any], int, bool]]) -> list[list[str]]:
    """Return kind and word of each: what home said, how many hours after noon it is read, whether it is said now."""
    script = """async ([cases, noon]) => {
      const { backupState, readHouseTold } = await import('/static/js/screens/house_backup.js');
      return cases.map(([said, hours, fresh]) => {
        const { kind, word } = backupState(readHouseTold(said), noon + hours * 3600000, fresh);
        return [kind, word];
      });
    }"""
    return page.evaluate(script, [cases, NOON_MS])


def test_each_thing_home_says_of_its_backup_has_its_state(blank: Page, store: Flask, tmp_path: Path) -> None:
    shelf = tmp_path / "shelf"
    fill()
    none_set = tell_house(None, NOON)
    none_yet = tell_house(shelf, NOON)
    try_due(tmp_path / "gone" / "shelf", NOON)
    first_failed = tell_house(tmp_path / "gone" / "shelf", NOON)
    try_due(shelf, NOON)
    good = tell_house(shelf, NOON)
    by_hand = tell_house(None, NOON)
    old = tell_house(shelf, NOON + dt.timedelta(days=5))
    Path(good["last_backup_file"]).unlink()
    taken_away = tell_house(shelf, NOON)
    try_due(tmp_path / "gone" / "shelf", NOON + dt.timedelta(days=1))
    failed = tell_house(tmp_path / "gone" / "shelf", NOON + dt.timedelta(days=1))
    said = [none_set, none_yet, first_failed, good, by_hand, old, taken_away, failed]
    hours = [0, 0, 0, 5, 5, 120, 5, 24]
    assert states(blank, [(one, at, True) for one, at in zip(said, hours, strict=True)]) == [
        ["bad", "No backup yet"],
        ["bad", "No backup yet"],
        ["bad", "No backup: the last try failed"],
        ["good", "Backed up 5 hours ago"],
        ["ask", "Backed up 5 hours ago, none set for tomorrow"],
        ["ask", "Backed up 5 days ago, none since"],
        ["bad", "No backup to rely on"],
        ["bad", "The last try failed"],
    ]


def test_what_was_heard_of_a_backup_grows_old_while_home_is_away(blank: Page) -> None:
    # Two days are still good; and what home says now is not made worse by a clock of the phone that runs ahead.
    assert states(blank, [(GOOD, 48, False), (GOOD, 49, False), (GOOD, 49, True)]) == [
        ["good", "Backed up 2 days ago"],
        ["ask", "Backed up 2 days ago"],
        ["good", "Backed up 2 days ago"],
    ]


def test_what_is_wrong_in_words_not_known_counts_as_bad(blank: Page) -> None:
    said = {**GOOD, "backup_ok": False, "why_not": "The cellar is under water."}
    assert (
        states(blank, [(said, 1, True), ({**said, "why_not": None}, 1, True)]) == [["bad", "No backup to rely on"]] * 2
    )


def test_an_answer_that_is_not_meant_is_not_taken_for_a_backup(blank: Page) -> None:
    def read(said: Any) -> Any:
        return call(blank, "screens/house_backup", "readHouseTold", said)

    assert read(GOOD) == GOOD
    assert [read(said) for said in (None, 7, "x", [], {}, {**GOOD, "backup_ok": "yes"})] == [None] * 6
    odd = {**GOOD, "last_backup_at": "soon", "last_backup_file": 7, "free_bytes": -1, "why_not": []}
    nulls = dict.fromkeys(("last_backup_at", "last_backup_file", "free_bytes", "why_not"))
    assert read(odd) == {**GOOD, **nulls}


def test_room_is_spoken_of_only_when_it_is_short(blank: Page) -> None:
    def short(free: int | None, shelf: int | None) -> list[str]:
        told = {**GOOD, "free_bytes": free, "backups_free_bytes": shelf}
        return call(blank, "screens/house_backup", "roomShort", told)

    assert short(2_000_000_000, None) == []
    log, shelf = short(1_999_999_999, 350_000_000)
    assert "log at home has only 2 GB" in log
    assert "backups has only 350 MB" in shelf


def test_days_of_the_certificate_are_whole_ones(blank: Page) -> None:
    def words(until: str | None) -> str | None:
        home = until and {"address": "https://hut.local:8420", "certificate_until": until}
        return call(blank, "screens/house_backup", "certificateWords", home, NOON_MS)

    assert words("2026-12-26T11:59:59.000Z") == "good for 29 more days"
    assert words("2026-11-27T12:00:00.000Z") == "good for 1 more day"
    assert words("2026-11-27T11:00:00.000Z") == "ends today"
    assert words("2026-11-26T12:00:00.000Z") is None
    assert words(None) is None


# --- on the screen ---------------------------------------------------------------------------------------------------


SOON = re.compile("^Backed up (just now|1 minute ago)$")
LAST_BACKUP = """async () => {
  const { askHomeJson } = await import('/static/js/store/home.js');
  return (await askHomeJson('/api/house', { waitMs: 8000 })).last_backup_at;
}"""


@pytest.fixture
def home(tmp_path: Path) -> Iterator[RunningServer]:
    """A server that makes a backup each day."""
    with RunningServer(tmp_path / "data", ("--plain", "--backups", str(tmp_path / "shelf"))) as running:
        yield running


def test_house_shows_the_backup_first_and_away_from_home_what_was_heard(browser: Browser, home: RunningServer) -> None:
    context = browser.new_context(viewport=PHONE, timezone_id="UTC", service_workers="block")
    page = context.new_page()
    page.goto(home.url)
    go(page, "#/house")
    expect(page.locator("[data-devices]")).to_contain_text("not paired with home yet")
    expect(page.locator("[data-backup]")).to_have_count(0)  # home tells it to its own phones only
    go(page, "#/sync")
    run(page, "await sync.pair(arg, 'phone');", home.pair_code())
    wait_for(lambda: page.evaluate(LAST_BACKUP), "no backup of the day")
    go(page, "#/house")
    sheet = page.locator("#app .sheet").first
    expect(sheet.locator(".state.good")).to_have_text(SOON)
    expect(sheet).to_contain_text(re.compile(r"Where.*/shelf/fellside-\d{4}-\d\d-\d\d\.zip"))
    expect(sheet).not_to_contain_text("What stands here")
    wait_for(lambda: run(page, "return store.getMeta('house_told');"), "what home said was not kept")
    home.kill()
    go(page, "#/sync")
    go(page, "#/house")
    expect(sheet).to_contain_text(
        re.compile(r"Home is not in reach\. What stands here is what it said (just now|1 minute ago), on ")
    )
    expect(sheet.locator(".state.good")).to_have_text(SOON)
    go(page, "#/sync")
    run(page, "await store.setMeta('house_told', null);")
    go(page, "#/house")
    expect(sheet).to_contain_text("This phone has not heard yet whether there is a backup.")
    context.close()
