"""Readers of PDF files that know nothing of how ours are written: PDFium out of a package, and poppler where it is."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pypdfium2
import pytest
from PIL import Image

INK = 200  # greys below are ink: anything fainter is the smoothing of an edge


def page_sizes(data: bytes) -> list[tuple[int, int]]:
    """Return width and height of each page in whole points."""
    with pypdfium2.PdfDocument(data) as document:
        return [(round(width), round(height)) for width, height in (page.get_size() for page in document)]


def text_of(data: bytes) -> str:
    """Return the text of all pages, as PDFium reads it, blanks and line ends as single blanks."""
    with pypdfium2.PdfDocument(data) as document:
        return " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())


def pictures_of(data: bytes, pixels_per_point: float = 2) -> list[Image.Image]:
    """Return each page as a grey picture."""
    with pypdfium2.PdfDocument(data) as document:
        return [page.render(scale=pixels_per_point).to_pil().convert("L") for page in document]


def ink_box(picture: Image.Image) -> tuple[int, int, int, int] | None:
    """Return left, top, right, bottom of what is not white, in pixels; None on an empty page."""
    return picture.point(lambda grey: 255 if grey < INK else 0).getbbox()


def poppler(program: str, data: bytes, folder: Path, *args: str) -> str:
    """Return what a program of poppler says of a file; the test is left out where there is none.

    Args:
        program: pdftotext, pdfinfo, pdffonts.
        args: after the name of the file.
    """
    path = shutil.which(program)
    if path is None:
        sentence = f"{program} is not on this machine (Debian: poppler-utils)."
        if os.environ.get("FELLSIDE_NEEDS_REAL_FILES"):
            pytest.fail(sentence)
        pytest.skip(sentence)
    file = folder / "paper.pdf"
    file.write_bytes(data)
    said = subprocess.run([path, str(file), *args], capture_output=True, text=True, check=False, encoding="utf-8")
    assert said.returncode == 0, said.stderr
    assert said.stderr == ""  # poppler tells of every fault of a file that it finds
    return said.stdout
