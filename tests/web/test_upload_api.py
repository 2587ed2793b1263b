"""Pieces of a file over HTTP: where it stands is in the headers, and what is refused changes nothing."""

from __future__ import annotations

import hashlib
import io
import shutil

import pytest
from builders import a_change, a_request
from PIL import Image

from field.services import keep_room

PIECE = 256 * 1024
DATA = bytes(range(256)) * 1025  # one piece and 256 bytes more
SHA = hashlib.sha256(DATA).hexdigest()


def send(client, offset: object, piece: bytes, total: object = len(DATA), sha: str = SHA, **headers: str):
    kind = headers.pop("kind", "application/partial-upload")
    sent = {"Upload-Offset": str(offset), "Upload-Length": str(total), "Content-Type": kind}
    return client.patch(f"/api/blob/{sha}", data=piece, headers=sent)


def place(answer) -> tuple[int, str | None, str | None]:
    return answer.status_code, answer.headers.get("Upload-Offset"), answer.headers.get("Upload-Complete")


def head(client, sha: str = SHA):
    return client.head(f"/api/blob/{sha}")


def test_a_file_comes_in_pieces_and_goes_out_whole(paired_client) -> None:
    assert head(paired_client).status_code == 404
    assert place(send(paired_client, 0, DATA[:PIECE])) == (204, str(PIECE), "?0")
    here = head(paired_client)
    assert place(here) == (200, str(PIECE), "?0")
    assert here.headers["Cache-Control"] == "no-store"
    assert paired_client.get(f"/api/blob/{SHA}").status_code == 404
    assert place(send(paired_client, PIECE, DATA[PIECE:])) == (204, str(len(DATA)), "?1")
    assert place(head(paired_client)) == (200, str(len(DATA)), "?1")
    got = paired_client.get(f"/api/blob/{SHA}", buffered=True)
    assert got.data == DATA
    assert "private" in got.headers["Cache-Control"]


def test_delivered_again_is_no_harm(paired_client) -> None:
    send(paired_client, 0, DATA[:PIECE])
    send(paired_client, PIECE, DATA[PIECE:])
    assert place(send(paired_client, PIECE, DATA[PIECE:])) == (204, str(len(DATA)), "?1")


@pytest.mark.parametrize("offset", [1, PIECE - 1, PIECE + 1, 0])
def test_a_piece_that_does_not_follow_is_told_where_to_go_on(paired_client, offset: int) -> None:
    send(paired_client, 0, DATA[:PIECE])
    answer = send(paired_client, offset, b"x" * 10)
    assert place(answer) == (409, str(PIECE), "?0")
    assert answer.get_json()["error"]["code"] == "wrong-offset"
    assert place(head(paired_client)) == (200, str(PIECE), "?0")


def test_a_piece_of_the_greatest_size_is_taken_and_one_byte_more_is_not(paired_client) -> None:
    answer = send(paired_client, 0, DATA[: PIECE + 1])
    assert answer.status_code == 413
    assert answer.get_json()["error"]["code"] == "too-large"
    assert head(paired_client).status_code == 404
    assert send(paired_client, 0, DATA[:PIECE]).status_code == 204


def test_wrong_bytes_are_dropped_and_right_ones_taken_after(paired_client) -> None:
    answer = send(paired_client, 0, b"x" * 100, total=100)
    assert answer.status_code == 422
    assert answer.get_json()["error"]["code"] == "hash-wrong"
    assert head(paired_client).status_code == 404
    send(paired_client, 0, DATA[:PIECE])
    assert send(paired_client, PIECE, DATA[PIECE:]).headers["Upload-Complete"] == "?1"


@pytest.mark.parametrize("kind", ["", "image/jpeg", "application/octet-stream"])
def test_another_content_type_is_refused(paired_client, kind: str) -> None:
    answer = send(paired_client, 0, b"x", kind=kind)
    assert answer.status_code == 415
    assert answer.get_json()["error"]["code"] == "wrong-type"
    assert head(paired_client).status_code == 404


@pytest.mark.parametrize("bad", ["", "-1", "+1", "1.0", "1e3", "0x10", "²", "٣", "1 ", "9" * 16, "NaN"])
@pytest.mark.parametrize("name", ["Upload-Offset", "Upload-Length"])
def test_a_header_that_is_no_count_is_refused(paired_client, name: str, bad: str) -> None:
    sent = {"Upload-Offset": "0", "Upload-Length": "1", "Content-Type": "application/partial-upload", name: bad}
    if bad == "1 ":  # blanks around a header's value are no part of it (RFC 9110, 5.5)
        sent[name] = "1 1"
    answer = paired_client.patch(f"/api/blob/{SHA}", data=b"x", headers=sent)
    assert answer.status_code == 400
    assert answer.get_json()["error"]["where"] == name
    assert head(paired_client).status_code == 404


def test_missing_headers_are_refused(paired_client) -> None:
    answer = paired_client.patch(f"/api/blob/{SHA}", data=b"x", headers={"Content-Type": "application/partial-upload"})
    assert answer.status_code == 400
    assert head(paired_client).status_code == 404


def test_preview_is_small_and_knows_nothing_of_the_place(paired_client) -> None:
    out = io.BytesIO()
    exif = Image.Exif()
    exif[0x0110] = "a camera"  # Model
    exif.get_ifd(0x8825)[1] = "N"
    Image.new("RGB", (1600, 1200), "olive").save(out, "JPEG", exif=exif)
    photo = out.getvalue()
    sha = hashlib.sha256(photo).hexdigest()
    assert send(paired_client, 0, photo, total=len(photo), sha=sha).headers["Upload-Complete"] == "?1"
    answer = paired_client.get(f"/api/blob/{sha}/preview", buffered=True)
    assert answer.mimetype == "image/jpeg"
    small = Image.open(io.BytesIO(answer.data))
    assert max(small.size) == 640
    assert dict(small.getexif()) == {}


def test_what_is_no_picture_has_no_preview(paired_client) -> None:
    send(paired_client, 0, DATA[:PIECE])
    send(paired_client, PIECE, DATA[PIECE:])
    answer = paired_client.get(f"/api/blob/{SHA}/preview")
    assert answer.status_code == 404
    assert answer.get_json()["error"]["code"] == "no-preview"


PDF = b"%PDF-1.4\ntrailer<<>>\n%%EOF\n"


def test_a_pdf_goes_out_to_be_kept_and_is_never_a_page_of_this_address(paired_client) -> None:
    sha = hashlib.sha256(PDF).hexdigest()
    assert place(send(paired_client, 0, PDF, len(PDF), sha)) == (204, str(len(PDF)), "?1")
    got = paired_client.get(f"/api/blob/{sha}")
    assert (got.data, got.mimetype) == (PDF, "application/pdf")
    assert got.headers["Content-Disposition"].startswith("attachment;")
    assert got.headers["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in got.headers["Content-Security-Policy"]
    got.close()


def test_a_page_called_a_paper_goes_out_as_bytes(paired_client) -> None:
    page = b"<!doctype html><script>alert(1)</script>"
    sha = hashlib.sha256(page).hexdigest()
    send(paired_client, 0, page, len(page), sha)
    got = paired_client.get(f"/api/blob/{sha}")
    assert got.mimetype == "application/octet-stream"
    assert got.headers["Content-Disposition"].startswith("attachment;")
    got.close()


def test_the_last_of_the_disk_is_kept_for_what_people_write(paired_client, data_dir, monkeypatch) -> None:
    assert place(send(paired_client, 0, DATA[:PIECE])) == (204, str(PIECE), "?0")
    free = shutil.disk_usage(data_dir).free
    monkeypatch.setattr(keep_room, "RESERVE", 2 * free)  # as if the disk were nearly full
    refused = send(paired_client, PIECE, DATA[PIECE:])
    assert refused.status_code == 507
    error = refused.get_json()["error"]
    assert error["code"] == "disk-full"
    assert "MiB left" in error["message"]
    assert place(head(paired_client)) == (200, str(PIECE), "?0")
    written = paired_client.post("/api/sync", json=a_request(a_change()))
    assert [one["s"] for one in written.get_json()["results"]] == ["ok"]
    monkeypatch.setattr(keep_room, "RESERVE", 0)
    assert place(send(paired_client, PIECE, DATA[PIECE:])) == (204, str(len(DATA)), "?1")


@pytest.mark.parametrize(
    "content",
    [
        b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>',
        b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>',
        b"<!doctype html><script>alert(1)</script>",
        b"\n\n <html><body onload=alert(1)>",
        b"GIF89a/*<svg/onload=alert(1)>*/=1;",
        b"%PDF-1.7 1 0 obj<</OpenAction<</S/JavaScript/JS(app.alert(1))>>>>",
        b"\xff\xd8\xff\xe0<script>alert(1)</script>",
        b"PK\x03\x04<html>",
    ],
    ids=["svg", "xml", "html", "spaces", "gif", "pdf", "jpeg", "zip"],
)
def test_nothing_that_was_sent_is_ever_a_page_of_this_address(paired_client, content: bytes) -> None:
    sha = hashlib.sha256(content).hexdigest()
    assert send(paired_client, 0, content, len(content), sha).status_code == 204
    got = paired_client.get(f"/api/blob/{sha}", buffered=True)
    assert got.data == content
    assert got.headers["X-Content-Type-Options"] == "nosniff"
    assert got.headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert got.mimetype in ("image/jpeg", "application/pdf", "application/octet-stream", "application/gpx+xml")
    if got.mimetype != "image/jpeg":
        assert got.headers["Content-Disposition"].startswith("attachment")
    assert paired_client.get(f"/api/blob/{sha}/preview").status_code == 404


def small_picture() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (320, 240), "red").save(out, "JPEG")
    return out.getvalue()


def test_a_small_picture_goes_ahead_and_is_not_kept_by_whoever_fetches_it_for_ever(paired_client) -> None:
    named = a_request(a_change({"sha256": SHA}, type="photo"))
    assert paired_client.post("/api/sync", json=named).status_code == 200
    preview = f"/api/blob/{SHA}/preview"
    assert paired_client.get(preview).status_code == 404
    assert paired_client.put(preview, data=small_picture(), content_type="image/jpeg").status_code == 204
    got = paired_client.get(preview)
    assert (got.status_code, got.mimetype, got.headers["Cache-Control"]) == (200, "image/jpeg", "no-store")
    assert head(paired_client).status_code == 404  # of the photo itself nothing is here


@pytest.mark.parametrize(
    ("data", "kind", "code"),
    [
        (b"x" * (128 * 1024 + 1), "image/jpeg", "too-large"),
        (b"x", "image/jpeg", "bad-picture"),
        (b"<svg/>", "image/svg+xml", "wrong-type"),
    ],
)
def test_a_small_picture_that_cannot_be_used_is_refused(paired_client, data: bytes, kind: str, code: str) -> None:
    paired_client.post("/api/sync", json=a_request(a_change({"sha256": SHA}, type="photo")))
    answer = paired_client.put(f"/api/blob/{SHA}/preview", data=data, content_type=kind)
    assert answer.get_json()["error"]["code"] == code
    assert paired_client.get(f"/api/blob/{SHA}/preview").status_code == 404
