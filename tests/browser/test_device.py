"""The phone's senses: which fix counts, when the receiver rests, and what becomes of a picked photo."""

from __future__ import annotations

import base64
import hashlib
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import phone_kit as kit
import pytest
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page

HERE = Path(__file__).resolve().parent
NOW = "2027-06-01T10:00:00.000Z"
# A receiver in the hand of the test: it says what it is told to, when it is told to.
RECEIVER = """
() => {
  const hand = {watches: new Map(), cleared: 0, shots: 0, next: 1};
  const geolocation = {
    watchPosition(ok, no, options) {
      hand.options = options;
      hand.watches.set(hand.next, {ok, no});
      return hand.next++;
    },
    clearWatch(id) { hand.watches.delete(id); hand.cleared += 1; },
    getCurrentPosition(ok, no) { hand.shots += 1; hand.one ? ok(hand.position(hand.one)) : no({code: 3}); },
  };
  hand.position = ({lat = 55.4, lon = -3.4, accuracy, age = 0, altitude = null}) => (
    {coords: {latitude: lat, longitude: lon, accuracy, altitude}, timestamp: Date.now() - age});
  hand.say = (fix) => { for (const {ok} of hand.watches.values()) ok(hand.position(fix)); };
  hand.fail = (code) => { for (const {no} of hand.watches.values()) no({code}); };
  Object.defineProperty(navigator, 'geolocation', {value: geolocation, configurable: true});
  globalThis.hand = hand;
  globalThis.got = [];
  globalThis.troubles = [];
}
"""
FOLLOW = """
async () => {
  const {watchFix} = await import('/static/js/device.js');
  globalThis.stop = watchFix((fix) => got.push(fix), (trouble) => troubles.push(trouble));
}
"""


@pytest.fixture(scope="module")
def line() -> Iterator[Any]:
    with kit.Line() as line:
        yield line


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context()
    yield context
    context.close()


@pytest.fixture
def page(context: BrowserContext, line: Any) -> Page:
    """A page whose clock stands still until the test moves it."""
    page = context.new_page()
    page.clock.install(time=NOW)
    page.goto(line.url + kit.BLANK)
    page.clock.pause_at("2027-06-01T10:01:00.000Z")
    return page


@pytest.fixture
def walker(page: Page) -> Page:
    """A page that follows a receiver in the test's hand."""
    page.evaluate(RECEIVER)
    page.evaluate(FOLLOW)
    return page


def say(page: Page, **fix: Any) -> None:
    page.evaluate("(fix) => hand.say(fix)", fix)


def accuracies(page: Page) -> list[float | None]:
    return page.evaluate("got.map((fix) => fix.accuracy_m)")


def take(page: Page) -> dict[str, Any] | None:
    return page.evaluate("async () => (await import('/static/js/device.js')).takeFix()")


# --- position ------------------------------------------------------------------------------------------------------


def test_fix_has_the_form_of_the_record(walker: Page) -> None:
    say(walker, lat=55.4, lon=0, accuracy=6.5, altitude=0)
    [fix] = walker.evaluate("got")
    platform = fix.pop("platform")
    assert fix == {
        "lat": 55.4,
        "lon": 0,
        "accuracy_m": 6.5,
        "height_m": 0,
        "fixed_at": "2027-06-01T10:01:00.000Z",
        "source": "web-geolocation",
    }
    assert platform


def test_height_that_the_receiver_does_not_tell_is_not_zero(walker: Page) -> None:
    say(walker, accuracy=6)
    assert walker.evaluate("got[0].height_m") is None


def test_receiver_is_asked_for_its_best_and_nothing_cached(walker: Page) -> None:
    assert walker.evaluate("hand.options") == {"enableHighAccuracy": True, "maximumAge": 0, "timeout": 60000}


def test_old_fix_is_dropped(walker: Page) -> None:
    say(walker, accuracy=6, age=10_001)
    assert accuracies(walker) == []


def test_fix_of_ten_seconds_still_counts(walker: Page) -> None:
    say(walker, accuracy=6, age=10_000)
    assert accuracies(walker) == [6]


def test_phone_with_a_wrong_clock_still_gets_fixes(walker: Page) -> None:
    say(walker, accuracy=6, age=3_600_000)
    walker.clock.run_for(1000)
    say(walker, accuracy=7, age=3_600_000)
    assert accuracies(walker) == [7]


def test_coarse_first_fix_waits_for_a_better_one(walker: Page) -> None:
    say(walker, accuracy=101)
    assert accuracies(walker) == []
    say(walker, accuracy=100)
    assert accuracies(walker) == [100]


def test_coarse_fix_is_better_than_none_after_twenty_seconds(walker: Page) -> None:
    say(walker, accuracy=400)
    walker.clock.run_for(19_000)
    assert accuracies(walker) == []
    walker.clock.run_for(1_500)
    assert accuracies(walker) == [400]


def test_best_of_the_last_fifteen_seconds_is_taken(walker: Page) -> None:
    for accuracy in (30, 5, 12):
        say(walker, accuracy=accuracy)
        walker.clock.run_for(1000)
    assert accuracies(walker) == [30, 5, 5]
    assert take(walker)["accuracy_m"] == 5
    walker.clock.run_for(14_500)
    say(walker, accuracy=20)
    assert take(walker)["accuracy_m"] == 20


def test_walker_has_left_the_circle_of_an_older_fix(walker: Page) -> None:
    say(walker, lat=55.4, accuracy=3)
    walker.clock.run_for(5000)
    # 0.0005 degrees of latitude are 56 m, more than 1.62 times 3 + 8 m
    say(walker, lat=55.4005, accuracy=8)
    assert walker.evaluate("got.at(-1).lat") == 55.4005


@pytest.mark.parametrize(("code", "word"), [(1, "denied"), (2, "searching"), (3, "searching")])
def test_trouble_is_told_in_words_and_searching_is_no_error(walker: Page, code: int, word: str) -> None:
    walker.evaluate("(code) => hand.fail(code)", code)
    [trouble] = walker.evaluate("troubles")
    assert trouble["code"] == word
    assert trouble["message"].endswith((".", "…"))


def test_receiver_rests_once_nobody_follows(walker: Page) -> None:
    walker.evaluate("stop()")
    assert walker.evaluate("[hand.watches.size, hand.cleared]") == [0, 1]
    say(walker, accuracy=6)
    assert accuracies(walker) == []


def test_two_screens_share_one_receiver(walker: Page) -> None:
    walker.evaluate(FOLLOW)
    assert walker.evaluate("hand.watches.size") == 1


def test_receiver_rests_while_the_app_is_hidden(walker: Page) -> None:
    for state, watches in (("hidden", 0), ("visible", 1)):
        walker.evaluate(
            """(state) => {
              Object.defineProperty(document, 'visibilityState', {value: state, configurable: true});
              document.dispatchEvent(new Event('visibilitychange'));
            }""",
            state,
        )
        assert walker.evaluate("hand.watches.size") == watches


def test_shutter_with_nothing_found_after_long_search_does_not_wait(walker: Page) -> None:
    walker.clock.run_for(30_000)
    assert take(walker) is None
    assert walker.evaluate("hand.shots") == 0


def test_shutter_with_no_screen_following_asks_the_receiver_once(page: Page) -> None:
    page.evaluate(RECEIVER)
    page.evaluate("hand.one = {accuracy: 9}")
    assert take(page)["accuracy_m"] == 9
    assert page.evaluate("hand.shots") == 1


def test_real_receiver_of_the_browser_is_followed(context: BrowserContext, line: Any) -> None:
    context.grant_permissions(["geolocation"])
    context.set_geolocation({"latitude": 55.4, "longitude": -3.4, "accuracy": 6})
    page = context.new_page()
    page.goto(line.url + kit.BLANK)
    fix = page.evaluate(
        """async () => {
          const {watchFix} = await import('/static/js/device.js');
          return new Promise((done, fail) => watchFix(done, fail));
        }"""
    )
    assert (fix["lat"], fix["lon"], fix["accuracy_m"]) == (55.4, -3.4, 6)


# --- photos --------------------------------------------------------------------------------------------------------

READ = """
async ({text, type}) => {
  const {readPhotoFile} = await import('/static/js/device.js');
  const file = new File([Uint8Array.from(atob(text), (c) => c.charCodeAt(0))], 'a.jpg', {type});
  const got = await readPhotoFile(file).catch((fault) => ({fault: fault.message}));
  if (got.fault) return got;
  const text64 = (bytes) => btoa(Array.from(new Uint8Array(bytes), (n) => String.fromCharCode(n)).join(''));
  return {...got, bytes: text64(got.bytes), thumb: got.thumb && text64(got.thumb)};
}
"""


def picture(width: int, height: int, orientation: int | None = None) -> bytes:
    out = io.BytesIO()
    image = Image.new("RGB", (width, height), "olive")
    exif = Image.Exif()
    if orientation is not None:
        exif[0x0112] = orientation
    image.save(out, "JPEG", exif=exif)
    return out.getvalue()


def read_photo(page: Page, content: bytes, media_type: str = "image/jpeg") -> dict[str, Any]:
    return page.evaluate(READ, {"text": base64.b64encode(content).decode(), "type": media_type})


def thumb_size(got: dict[str, Any]) -> tuple[int, int]:
    image = Image.open(io.BytesIO(base64.b64decode(got["thumb"])))
    assert image.format == "JPEG"
    return image.size


@pytest.fixture
def reader(context: BrowserContext, line: Any) -> Page:
    page = context.new_page()
    page.goto(line.url + kit.BLANK)
    return page


def test_photo_keeps_its_own_bytes_and_their_hash(reader: Page) -> None:
    content = picture(640, 480)
    got = read_photo(reader, content)
    assert base64.b64decode(got["bytes"]) == content
    assert got["sha256"] == hashlib.sha256(content).hexdigest()
    assert (got["type"], got["size"]) == ("image/jpeg", len(content))


@pytest.mark.parametrize(
    ("width", "height", "orientation", "want"),
    [
        (640, 480, None, (320, 240)),
        (480, 640, None, (240, 320)),
        (640, 480, 6, (240, 320)),
        (320, 100, None, (320, 100)),
    ],
)
def test_small_picture_fits_320_pixels_and_stands_upright(
    reader: Page, width: int, height: int, orientation: int | None, want: tuple[int, int]
) -> None:
    assert thumb_size(read_photo(reader, picture(width, height, orientation))) == want


# The first box of a HEIF file (ISO/IEC 14496-12, 4.3): its length, its type, its brand.
HEIC = b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"


@pytest.mark.parametrize("media_type", ["image/heic", "image/jpeg", ""])
def test_photo_that_cannot_be_drawn_is_kept_all_the_same(reader: Page, media_type: str) -> None:
    got = read_photo(reader, HEIC, media_type)
    assert base64.b64decode(got["bytes"]) == HEIC
    assert got["type"] == "image/heic"
    assert got.get("thumb") is None
    assert got["doubt"] is None


def test_photo_that_was_cut_off_is_kept_and_said(reader: Page) -> None:
    content = picture(640, 480)[:200]
    got = read_photo(reader, content)
    assert base64.b64decode(got["bytes"]) == content
    assert "cut off or damaged" in got["doubt"]


@pytest.mark.parametrize("media_type", ["image/jpeg", "text/plain", ""])
def test_file_that_is_no_picture_is_refused_by_its_content(reader: Page, media_type: str) -> None:
    assert "is not a picture" in read_photo(reader, b"not a picture", media_type)["fault"]


def test_empty_file_is_refused_in_words(reader: Page) -> None:
    assert read_photo(reader, b"") == {"fault": "This file is empty."}


def test_file_taken_back_by_the_phone_is_told_in_words(reader: Page) -> None:
    said = reader.evaluate(
        """async () => {
          const {readPhotoFile} = await import('/static/js/device.js');
          const arrayBuffer = async () => { throw new DOMException('gone', 'NotReadableError'); };
          const file = {type: 'image/jpeg', arrayBuffer};
          return readPhotoFile(file).catch((fault) => fault.message);
        }"""
    )
    assert "Choose it once more" in said
