"""Draw the demo's photos: invented trees on invented hills, with real Exif written into them.

Nothing here is a picture of anything. Each drawing is settled by its seed, so the same demo looks the same twice.
"""

from __future__ import annotations

import io
import math
import random
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from PIL import Image, ImageDraw
from PIL.TiffImagePlugin import IFDRational

SIZE = (960, 720)
SMALL = (720, 540)
BARK = {"birch": (222, 217, 205), "larch": (116, 84, 66), "scots-pine": (158, 96, 62), "yew": (112, 66, 54)}
LEAF = {
    "birch": (148, 150, 62),
    "hawthorn": (92, 108, 58),
    "larch": (176, 150, 70),
    "scots-pine": (66, 92, 78),
    "juniper": (84, 106, 92),
    "yew": (44, 70, 48),
    "beech": (172, 112, 60),
    "rowan": (160, 92, 48),
}

# Exif tag numbers, Exif 2.32 (CIPA DC-008), tables 4 to 15.
ORIENTATION, SOFTWARE, DATE_TIME = 0x0112, 0x0131, 0x0132
EXIF_IFD, GPS_IFD = 0x8769, 0x8825
DATE_TIME_ORIGINAL, OFFSET_TIME_ORIGINAL, SUBSEC_ORIGINAL = 0x9003, 0x9011, 0x9291
GPS_LAT_REF, GPS_LAT, GPS_LON_REF, GPS_LON, GPS_ALT_REF, GPS_ALT = 1, 2, 3, 4, 5, 6
GPS_TIME, GPS_DIRECTION_REF, GPS_DIRECTION, GPS_DATUM, GPS_DATE, GPS_ERROR = 7, 16, 17, 18, 29, 31


@dataclass(frozen=True, slots=True)
class Shot:
    """What the camera knew when it drew this picture."""

    taken_at: datetime  # aware UTC, the true instant
    zone_offset: timedelta | None  # what the camera writes as its offset; None: it writes none
    clock_wrong_s: float = 0.0  # how far the camera's clock runs ahead
    lat: float | None = None
    lon: float | None = None
    accuracy_m: float | None = None
    height_m: float | None = None
    direction_deg: float | None = None
    local_offset: timedelta = timedelta(0)  # of the camera's own clock, written or not


def _degrees(value: float) -> tuple[IFDRational, IFDRational, IFDRational]:
    """Return an angle as Exif's three fractions: degrees, minutes, seconds to 1e-4 (3 mm)."""
    ten_thousandths = round(abs(value) * 36_000_000)
    minutes, rest = divmod(ten_thousandths, 600_000)
    return IFDRational(minutes // 60, 1), IFDRational(minutes % 60, 1), IFDRational(rest, 10_000)


def exif_of(shot: Shot) -> Image.Exif:
    """Return the Exif block of a shot; without a position it has no GPS part at all."""
    exif = Image.Exif()
    local = shot.taken_at.astimezone(UTC) + shot.local_offset + timedelta(seconds=shot.clock_wrong_s)
    exif[ORIENTATION] = 1
    exif[SOFTWARE] = "drawn for the Fellside demo"
    exif[DATE_TIME] = local.strftime("%Y:%m:%d %H:%M:%S")
    inner = exif.get_ifd(EXIF_IFD)
    inner[DATE_TIME_ORIGINAL] = local.strftime("%Y:%m:%d %H:%M:%S")
    inner[SUBSEC_ORIGINAL] = f"{local.microsecond // 1000:03d}"
    if shot.zone_offset is not None:
        minutes = round(shot.zone_offset.total_seconds() / 60)
        inner[OFFSET_TIME_ORIGINAL] = f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"
    if shot.lat is not None and shot.lon is not None:
        utc = shot.taken_at.astimezone(UTC)
        gps = exif.get_ifd(GPS_IFD)
        gps[GPS_LAT_REF], gps[GPS_LAT] = ("S" if shot.lat < 0 else "N"), _degrees(shot.lat)
        gps[GPS_LON_REF], gps[GPS_LON] = ("W" if shot.lon < 0 else "E"), _degrees(shot.lon)
        gps[GPS_TIME] = (IFDRational(utc.hour, 1), IFDRational(utc.minute, 1), IFDRational(utc.second, 1))
        gps[GPS_DATE] = utc.strftime("%Y:%m:%d")
        gps[GPS_DATUM] = "WGS-84"
        if shot.height_m is not None:
            gps[GPS_ALT_REF] = b"\x01" if shot.height_m < 0 else b"\x00"
            gps[GPS_ALT] = IFDRational(round(abs(shot.height_m) * 10), 10)
        if shot.direction_deg is not None:
            gps[GPS_DIRECTION_REF], gps[GPS_DIRECTION] = "T", IFDRational(round(shot.direction_deg * 100), 100)
        if shot.accuracy_m is not None:
            gps[GPS_ERROR] = IFDRational(round(shot.accuracy_m * 100), 100)
    return exif


def _hill(dice: random.Random, base: float, rough: float, width: int) -> list[tuple[float, float]]:
    waves = [(dice.uniform(0.3, 2.2), dice.uniform(0, math.tau), dice.uniform(0.3, 1.0)) for _ in range(4)]
    return [
        (x, base + rough * sum(high * math.sin(math.tau * often * x / width + shift) for often, shift, high in waves))
        for x in range(0, width + 12, 12)
    ]


def _branch(
    pen: ImageDraw.ImageDraw,
    dice: random.Random,
    at: tuple[float, float],
    angle: float,
    length: float,
    thick: float,
    look: tuple[tuple[int, int, int], tuple[int, int, int], float],
) -> None:
    bark, leaf, droop = look
    x, y = at
    steps = max(2, int(length / 14))
    for _ in range(steps):
        angle += dice.uniform(-0.16, 0.16) + droop * math.cos(angle) * 0.02
        there = (x + length / steps * math.cos(angle), y - length / steps * math.sin(angle))
        pen.line((x, y, *there), fill=bark, width=max(1, round(thick)))
        x, y = there
        thick *= 0.97
    if thick < 2.2 or length < 16:
        for _ in range(5):
            r = dice.uniform(3, 9)
            dx, dy = dice.uniform(-16, 16), dice.uniform(-12, 12)
            shade = dice.uniform(0.75, 1.2)
            colour = tuple(min(255, round(part * shade)) for part in leaf)
            pen.ellipse((x + dx - r, y + dy - r, x + dx + r, y + dy + r), fill=colour)
        return
    for turn in (dice.uniform(0.3, 0.75), -dice.uniform(0.3, 0.75)):
        _branch(pen, dice, (x, y), angle + turn, length * dice.uniform(0.62, 0.82), thick * 0.66, look)


def draw_tree(seed: str, species: str, *, low: bool = False) -> Image.Image:
    """Return a drawing of one tree on a hillside, settled by its seed.

    Args:
        seed: any text; the same text draws the same picture.
        species: short name of the kind; it sets the colours.
        low: a cushion near the ground instead of a standing tree.
    """
    dice = random.Random(f"{seed}:{species}")  # a drawing, no secret
    width, height = SIZE
    picture = Image.new("RGB", SIZE)
    pen = ImageDraw.Draw(picture)
    grey = dice.randint(-14, 14)
    for y in range(height):
        part = y / height
        pen.line((0, y, width, y), fill=(176 + grey + round(40 * part), 190 + grey + round(24 * part), 198 + grey))
    for layer, (base, rough) in enumerate(((0.46, 26), (0.58, 20), (0.70, 12))):
        tone = (128 - 22 * layer, 138 - 16 * layer, 118 - 26 * layer)
        line = _hill(dice, height * base, rough, width)
        pen.polygon([*line, (width, height), (0, height)], fill=tone)
    for _ in range(420):
        foot_x, foot_y = dice.uniform(0, width), dice.uniform(height * 0.72, height)
        tall = dice.uniform(6, 26)
        pen.line(
            (foot_x, foot_y, foot_x + dice.uniform(-5, 5), foot_y - tall),
            fill=(110 + dice.randint(-26, 40), 112, 62),
            width=2,
        )
    look = (BARK.get(species, (92, 80, 70)), LEAF.get(species, (100, 112, 66)), 1.0 if species == "birch" else 0.3)
    foot = (width * dice.uniform(0.42, 0.58), height * 0.86)
    lean = math.pi / 2 + dice.uniform(-0.35, 0.35)
    trunk = height * (0.13 if low else dice.uniform(0.19, 0.25))
    _branch(pen, dice, foot, lean, trunk, dice.uniform(20, 32), look)
    return picture


def draw_hole(seed: str) -> Image.Image:
    """Return a drawing of a filled hole: trodden earth in the grass, settled by its seed."""
    dice = random.Random(seed)  # a drawing, no secret
    width, height = SMALL
    picture = Image.new("RGB", SMALL, (112, 122, 74))
    pen = ImageDraw.Draw(picture)
    x, y, r = width * dice.uniform(0.45, 0.55), height * dice.uniform(0.5, 0.6), width * dice.uniform(0.2, 0.26)
    pen.ellipse((x - r, y - r * 0.6, x + r, y + r * 0.6), fill=(94, 74, 54))
    for _ in range(260):
        at_x, at_y = x + dice.uniform(-r, r) * 0.8, y + dice.uniform(-r, r) * 0.45
        shade = dice.randint(-18, 22)
        pen.ellipse((at_x - 5, at_y - 3, at_x + 5, at_y + 3), fill=(100 + shade, 80 + shade, 58 + shade))
    for _ in range(900):
        at_x, at_y = dice.uniform(0, width), dice.uniform(0, height)
        if math.hypot((at_x - x) / r, (at_y - y) / (r * 0.6)) > 1:
            tone = (92 + dice.randint(-20, 40), 112, 58)
            pen.line((at_x, at_y, at_x + dice.uniform(-4, 4), at_y - dice.uniform(6, 18)), fill=tone, width=2)
    return picture


def draw_paper(seed: str) -> Image.Image:
    """Return a drawing of a written sheet on a table: lines of ink that say nothing, and a signature."""
    dice = random.Random(seed)  # a drawing, no secret
    width, height = SMALL[1], SMALL[0]
    picture = Image.new("RGB", (width, height), (104, 84, 66))
    pen = ImageDraw.Draw(picture)
    pen.polygon([(34, 26), (width - 30, 38), (width - 40, height - 30), (24, height - 44)], fill=(238, 234, 222))
    for line in range(17):
        x, y = 70.0, 84 + line * 27
        end = width - 80 - (dice.uniform(60, 200) if line % 5 == 4 else dice.uniform(0, 24))
        while x < end:
            word = dice.uniform(16, 60)
            pen.line((x, y + x / 60, x + word, y + (x + word) / 60), fill=(58, 62, 92), width=4)
            x += word + 10
    ink = [(200 + n * 9, height - 74 - 20 * math.sin(n * dice.uniform(0.8, 1.2))) for n in range(20)]
    pen.line(ink, fill=(34, 40, 84), width=4)
    return picture


def write_picture(picture: Image.Image) -> bytes:
    """Return the picture as JPEG bytes with no metadata."""
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=80)
    return out.getvalue()


def write_photo(picture: Image.Image, shot: Shot) -> bytes:
    """Return the picture as JPEG bytes with the shot's Exif inside."""
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=80, exif=exif_of(shot))
    return out.getvalue()


def write_photo_with_zeros(picture: Image.Image, shot: Shot) -> bytes:
    """Return the picture with a position of 0, 0: what phones hand out when they hide the place."""
    exif = exif_of(shot)
    gps = exif.get_ifd(GPS_IFD)
    gps[GPS_LAT_REF], gps[GPS_LAT] = "N", _degrees(0.0)
    gps[GPS_LON_REF], gps[GPS_LON] = "E", _degrees(0.0)
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=80, exif=exif)
    return out.getvalue()
