"""What the tests of Where it stands share: trees with fixes worked by hand, and a receiver in the hand of the test."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import hill_kit as kit
from playwright.sync_api import Page
from pyproj import Geod

VECTORS = Path(__file__).resolve().parent.parent / "vectors"
GRID = json.loads((VECTORS / "grid.json").read_text(encoding="utf-8"))
SUN = {case["name"]: case for case in json.loads((VECTORS / "sun.json").read_text(encoding="utf-8"))["cases"]}
WGS84 = Geod(ellps="WGS84")

LAT, LON = 55.4025, -3.395  # as kit.INSIDE
# The second has 0.00002 degrees more, the third as much less: 2.2 m by 111.3 km a degree. The mean is the first.
NEAR_BY = (
    (0.0, "2026-04-12T09:00:00.000Z"),
    (0.00002, "2026-04-20T09:00:00.000Z"),
    (-0.00002, "2026-04-28T09:00:00.000Z"),
)
OFF_LON, OFF_LAT, _ = WGS84.fwd(LON, LAT, 0, 41)  # 41 m to the north


class PlaceGround(kit.Ground):
    """Trees: `several` with four fixes, `bare` with none, one `surveyed`, one in the `lakes` with known sun."""

    def __init__(self) -> None:
        super().__init__()
        self.several, self.bare, self.surveyed, self.lakes = (self.tree(tag) for tag in ("K1", "K2", "K3", "K4"))
        for north, at in NEAR_BY:
            self.fix(self.several, LAT + north, LON, at)
        self.stray = self.fix(self.several, OFF_LAT, OFF_LON, "2026-05-03T09:00:00.000Z")
        self.point = next(p for p in GRID["os_test_points_etrs89_to_osgb36"]["points"] if p["id"] == "TP04")
        self.fix(self.surveyed, self.point["lat"], self.point["lon"], "2026-04-12T09:00:00.000Z")
        lakes = SUN["Lake District autumn"]
        self.fix(self.lakes, lakes["lat"], lakes["lon"], "2026-04-12T09:00:00.000Z")

    def tree(self, tag: str) -> str:
        fields = {"species": "birch", "marked_on": "2026-04-12", "origin": "lifted"}
        return self.add("tree", site=self.site, tag=tag, **fields)

    def fix(self, tree: str, lat: float, lon: float, at: str) -> str:
        """A fix of 5 m by a phone."""
        fields = {"accuracy_m": 5, "source": "web-geolocation", "platform": "Android"}
        return self.add("fix", tree=tree, lat=lat, lon=lon, fixed_at=at, **fields)


# A receiver in the hand of the test: it says what it is told to, with the time it is told.
RECEIVER = """
(() => {
  const watches = new Map();
  let next = 1;
  const begun = Date.now();
  globalThis.say = ({lat, lon, accuracy, after_s}) => {
    const coords = {latitude: lat, longitude: lon, accuracy, altitude: null};
    const position = {coords, timestamp: begun + after_s * 1000};
    for (const ok of watches.values()) ok(position);
  };
  globalThis.listening = () => watches.size;
  Object.defineProperty(navigator, 'geolocation', {configurable: true, value: {
    watchPosition(ok) { watches.set(next, ok); return next++; },
    clearWatch(id) { watches.delete(id); },
    getCurrentPosition(ok, no) { no({code: 3}); },
  }});
})();
"""


def in_hand(page: Page, where: str) -> None:
    """Open a place with a receiver that says only what the test tells it to."""
    page.add_init_script(RECEIVER)
    page.reload()
    kit.go(page, where)


def say(page: Page, after_s: float, accuracy: float, lat: float = LAT, lon: float = LON) -> None:
    """Have the receiver say one fix, so many seconds after the page was opened."""
    page.evaluate("(fix) => say(fix)", {"lat": lat, "lon": lon, "accuracy": accuracy, "after_s": after_s})


def fixes_of(page: Page, tree: str) -> list[dict[str, Any]]:
    """The fields of the fixes this phone keeps of a tree."""
    return [fix["fields"] for fix in kit.records(page, "fix") if fix["fields"]["tree"] == tree]
