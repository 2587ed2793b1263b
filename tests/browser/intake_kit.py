"""What the tests of the intake share: a walk as a GPX track, and photos with real Exif taken on it."""

from __future__ import annotations

import datetime as dt
import io
import json
from collections.abc import Iterable

import hill_kit as kit
from PIL import Image
from playwright.sync_api import Page, expect

LAT, LON = 55.4025, -3.395
STEP_LAT = 0.00009  # 10.0 m northwards: a degree of latitude is 111.36 km here
STEP_S = 10
LONGEST_MS = 30_000
START = dt.datetime(2027, 2, 14, 9, 0, tzinfo=dt.UTC)


def photo(
    camera_at: dt.datetime | None = None,
    place: tuple[float, float] | None = None,
    colour: str | tuple[int, int, int] = "green",
    zone: str | None = None,
) -> bytes:
    """Return a JPEG that says when by its camera's clock, and where, it was taken."""
    exif = Image.Exif()
    if camera_at is not None:
        camera = {0x9003: camera_at.strftime("%Y:%m:%d %H:%M:%S")}
        if zone is not None:
            camera[0x9011] = zone
        exif[0x8769] = camera
    if place is not None:
        lat, lon = place
        exif[0x8825] = {
            1: "N" if lat >= 0 else "S",
            2: (abs(lat), 0.0, 0.0),
            3: "E" if lon >= 0 else "W",
            4: (abs(lon), 0.0, 0.0),
        }
    out = io.BytesIO()
    Image.new("RGB", (64, 48), colour).save(out, "JPEG", exif=exif.tobytes())
    return out.getvalue()


def on_walk(step: float) -> tuple[float, float]:
    """Return the place on the walk after so many steps of STEP_S: due north, 10 m a step."""
    return LAT + step * STEP_LAT, LON


def at(step: float) -> dt.datetime:
    """Return the instant of that place."""
    return START + dt.timedelta(seconds=step * STEP_S)


def walk(steps: int) -> bytes:
    """Return the walk as GPX, a point every STEP_S."""
    points = "".join(
        f'<trkpt lat="{on_walk(n)[0]:.7f}" lon="{LON}"><time>{at(n):%Y-%m-%dT%H:%M:%SZ}</time></trkpt>'
        for n in range(steps + 1)
    )
    return (
        '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="made"><trk><trkseg>'
        f"{points}</trkseg></trk></gpx>"
    ).encode()


def as_file(name: str, content: bytes) -> dict[str, object]:
    return {"name": name, "mimeType": "application/octet-stream", "buffer": content}


def choose(page: Page, *files: dict[str, object]) -> None:
    """Choose files and wait until home has read them."""
    page.locator('input[name="files"]').set_input_files(list(files))
    expect(page.locator('[data-part="bar"] [data-save]')).to_be_visible(timeout=LONGEST_MS)
    expect(page.locator("[data-run-words]")).to_have_count(0, timeout=LONGEST_MS)


def save(page: Page) -> None:
    """Save everything, the places that are not accepted yet as well."""
    page.locator("[data-save]").click()
    accept = page.get_by_role("button", name="and save")
    expect(accept.or_(page.locator("[data-last]")).first).to_be_visible(timeout=LONGEST_MS)
    if accept.is_visible():
        accept.click()
    expect(page.locator("[data-last]")).to_be_visible(timeout=LONGEST_MS)


def photos_kept(page: Page) -> dict[str, dict[str, object]]:
    """Return the fields of the photos that this phone knows, by the name of their file."""
    return {one["fields"]["file_name"]: one["fields"] for one in kit.records(page, "photo")}


def kept_in_time(page: Page, names: Iterable[str]) -> dict[str, dict[str, object]]:
    """Return the photos once exactly these have come back from home."""
    wanted = sorted(names)
    kept = page.evaluate(
        """async ([wanted, longest]) => {
          const store = await import('/static/js/store.js');
          const names = async () => (await store.listRecords('photo')).map((one) => one.fields.file_name).sort();
          const late = new Promise((done) => { setTimeout(done, longest, 'late'); });
          for (;;) {
            let stop;
            const changed = new Promise((done) => { stop = store.onStoreChange(done); });
            const now = await names();
            if (JSON.stringify(now) === wanted || (await Promise.race([changed, late])) === 'late') {
              stop();
              return names();
            }
            stop();
          }
        }""",
        [json.dumps(wanted, separators=(",", ":")), LONGEST_MS],
    )
    assert kept == wanted
    return photos_kept(page)
