"""Small pictures of photos: upright, without any metadata, made once."""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image, ImageOps

from field.store import files

MOST_EDGE = 640  # pixels
# A small file can unpack to more than the memory holds. A JPEG is unpacked at an eighth; others as a whole.
MOST_PIXELS = {"JPEG": 120_000_000, "MPO": 120_000_000}
MOST_PIXELS_OTHERS = 50_000_000
QUALITY = 82  # common practice
FORMATS = ("JPEG", "PNG", "WEBP", "GIF", "TIFF")
Image.MAX_IMAGE_PIXELS = None  # our own limit is asked before anything is unpacked, and raises no warnings

try:
    import pillow_heif  # type: ignore[import-not-found,unused-ignore]
except ImportError:  # optional: without it such a photo is kept and has no preview
    HEIF = False
else:
    pillow_heif.register_heif_opener()
    HEIF = True


def write_preview(source: Path, target: Path) -> bool:
    """Write the preview of a photo, if one can be made; return whether it was.

    Raises: NoRoom when the disk is full.
    """
    made = make_preview(source)
    if made is None:
        return False
    with files.replacing(target) as out:
        out.write(made)
    return True


def make_preview(source: Path) -> bytes | None:
    """Return a JPEG of at most MOST_EDGE pixels, upright, without metadata; None where no picture can be read."""
    try:
        with Image.open(source, formats=(*FORMATS, "HEIF") if HEIF else FORMATS) as image:
            if image.width * image.height > MOST_PIXELS.get(str(image.format), MOST_PIXELS_OTHERS):
                return None
            image.draft("RGB", (MOST_EDGE, MOST_EDGE))
            image.thumbnail((MOST_EDGE, MOST_EDGE), Image.Resampling.LANCZOS)
            upright = ImageOps.exif_transpose(image)
            plain = Image.new("RGB", upright.size, "white")
            plain.paste(upright.convert("RGBA"), mask=upright.convert("RGBA").getchannel("A"))
    except Exception:
        # A damaged file can make the decoders raise nearly anything; the photo is kept, and has no preview.
        return None
    out = io.BytesIO()
    plain.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()
