"""Small pictures of photos: upright, without any metadata, made once."""

from __future__ import annotations

import io
import threading
from pathlib import Path

from PIL import Image

from field.store import files
from field.store.picture_work import is_bearable

MOST_EDGE = 640  # pixels
# A small file can unpack to more than the memory holds. A JPEG is unpacked at an eighth; others as a whole, and WebP
# with 16 bytes a pixel.
MOST_PIXELS = {"JPEG": 120_000_000, "MPO": 120_000_000, "WEBP": 25_000_000}
MOST_PIXELS_OTHERS = 50_000_000
QUALITY = 82  # common practice
ORIENTATION = 0x0112  # the tag that tells how the camera was held
UPRIGHT = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}  # Exif 3.0, 4.6.5.1.6
FORMATS = ("JPEG", "PNG", "WEBP", "GIF", "TIFF")
two_at_once = threading.BoundedSemaphore(2)  # each may take some hundred MiB
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
        if not is_bearable(source):
            return None
        with two_at_once, Image.open(source, formats=(*FORMATS, "HEIF") if HEIF else FORMATS) as image:
            if image.width * image.height > MOST_PIXELS.get(str(image.format), MOST_PIXELS_OTHERS):
                return None
            image.draft("RGB", (MOST_EDGE, MOST_EDGE))
            image.thumbnail((MOST_EDGE, MOST_EDGE), Image.Resampling.LANCZOS)
            turn = UPRIGHT.get(image.getexif().get(ORIENTATION, 1))
            upright = image if turn is None else image.transpose(turn)
            # Into a new picture: nothing but its pixels goes over.
            plain = Image.new("RGB", upright.size, "white")
            if upright.mode == "RGB" and "transparency" not in image.info:
                plain.paste(upright)
            else:
                layer = upright.convert("RGBA")
                plain.paste(layer, mask=layer.getchannel("A"))
    except Exception:
        # A damaged file can make the decoders raise nearly anything; the photo is kept, and has no preview.
        return None
    out = io.BytesIO()
    plain.save(out, "JPEG", quality=QUALITY)
    return out.getvalue()
