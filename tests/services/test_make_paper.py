"""Papers made from a real store: whose they are, what is in them, and what is not."""

from __future__ import annotations

import datetime as dt
import io
import time
from dataclasses import replace
from typing import Any

import pytest
from builders import SQUARE
from pdf_reader import page_sizes, text_of
from PIL import Image

from field.core.errors import BadInput, NotFound, TooLarge
from field.core.leave_letter import COLLECTOR_ID
from field.core.signing import content_sha256
from field.services.keep_blob import keep_bytes
from field.services.make_paper import Paper, Question, make_paper, read_question
from field.services.write_changes import write_changes

TODAY = dt.date(2027, 3, 1)
NAME = "Đặng Thị Hương"

pytestmark = pytest.mark.usefixtures("store")


@pytest.fixture
def database_url() -> None:
    """SQLite alone: what is put on paper hangs on records, not on what they lie in."""


class Ground:
    """A site of two landholders, a leave of one of them, and two trees lifted under it."""

    def __init__(self, **leave: Any) -> None:
        self.site = self.write("site", name="Hopehead Moss", zone="Europe/London", boundary=SQUARE)
        self.ann = self.write("landholder", name=NAME, address="Hopehead Farm\nAlderhope")
        write_changes([("collector", COLLECTOR_ID, {"name": "Zofia Wrzesień", "address": "3 Kiln Row"})])
        terms = {"starts_on": "2027-01-01", "ends_on": "2027-03-31", "allowance": 5, "by_role": "owner"}
        self.leave = self.write("leave", site=self.site, landholder=self.ann, **{**terms, **leave})
        self.trees = [self.lifted("H1", "2027-02-14", 55.4025), self.lifted("H2", "2027-02-20", 55.4035)]

    def write(self, record_type: str, **fields: Any) -> str:
        return write_changes([(record_type, None, fields)])[0]

    def lifted(self, tag: str, on: str, lat: float, leave: str | None = None) -> str:
        tree = self.write("tree", site=self.site, tag=tag, species="scots-pine", girth_mm=300)
        self.write(
            "lift",
            tree=tree,
            site=self.site,
            leave=leave or self.leave,
            lifted_on=on,
            lat=lat,
            lon=-3.395,
            accuracy_m=4.0,
            hole_filled=True,
        )
        return tree

    def paper(self, kind: str, form: str = "html", **asked: Any) -> Paper:
        return make_paper(replace(Question(kind, self.leave, form), **asked), TODAY, ".letter-page {}")

    def text(self, kind: str, **asked: Any) -> str:
        return self.paper(kind, **asked).data.decode()


def test_letter_names_both_sides_the_ground_and_the_terms() -> None:
    said = Ground(species=["scots-pine"]).text("leave")
    for words in (
        NAME,
        "Zofia Wrzesień",
        "Hopehead Moss",
        "NT 117 129",
        "35.27 hectares",
        "1 March 2027",
        "Scots pine",
    ):
        assert words in said


def test_role_and_right_come_from_the_holding_where_the_leave_has_none() -> None:
    ground = Ground(by_role=None)
    ground.write("holding", site=ground.site, landholder=ground.ann, role="occupier", by_right="grazing tenancy")
    said = ground.text("leave")
    assert "occupier of the ground" in said
    assert "by this right: grazing tenancy." in said


def test_leave_with_nothing_known_makes_a_letter_of_lines_to_write_on() -> None:
    ground = Ground()
    ground.leave = ground.write("leave", note="said at the gate")
    assert 'class="open"' in ground.text("leave")
    assert page_sizes(ground.paper("leave", "pdf").data)


def test_report_is_of_the_last_day_with_a_lift_unless_days_are_asked_for() -> None:
    ground = Ground()
    assert "On 20 February 2027, 1 tree was dug out" in ground.text("report")
    both = ground.text("report", starts_on=dt.date(2027, 2, 14), ends_on=dt.date(2027, 2, 20))
    assert "On 14 February 2027 and 20 February 2027, 2 trees were dug out" in both
    assert "In this time no tree was dug out" in ground.text("report", starts_on=dt.date(2027, 2, 21))


def test_report_tells_the_giver_of_the_leave_exactly_where_trees_stood() -> None:
    said = Ground().text("report")
    assert "NT 1176 1305" in said  # PROJ 9, EPSG:27700: 311760 E, 613059 N
    assert "1 km square" not in said


def test_report_to_nobody_known_tells_the_square_only_and_marks_nothing() -> None:
    ground = Ground()
    given = ground.text("report")
    write_changes([("leave", ground.leave, {"landholder": None})])
    said = ground.text("report")
    assert "within the 1 km square NT 11 13" in said
    assert "NT 1176" not in said
    assert ">H2</text>" in given
    assert ">H2</text>" not in said
    assert 'stroke-width="0.8"' not in said  # the mark itself


def test_report_counts_what_remains_and_how_earlier_trees_fare() -> None:
    ground = Ground()
    write_changes([("tree", ground.trees[0], {"ended_as": "lost", "ended_on": "2027-02-19"})])
    said = ground.text("report")
    assert "We agreed on 5 trees; 2 trees have been lifted, and 3 trees remain." in said
    assert "The tree lifted before with your leave died." in said


def test_earlier_trees_of_another_landholder_are_not_told_of() -> None:
    ground = Ground()
    other = ground.write("leave", site=ground.site, landholder=ground.write("landholder", name="Bo"))
    ground.lifted("B1", "2027-01-02", 55.401, leave=other)
    assert "The tree lifted before with your leave is growing on." in ground.text("report")  # H1 alone


def a_photo(**more: Any) -> bytes:
    picture, out = Image.effect_noise((1600, 1200), 40).convert("RGB"), io.BytesIO()
    exif = Image.Exif()
    exif[0x010F] = "Maker of cameras"
    exif.get_ifd(0x8825)[1] = "N"
    picture.save(out, "JPEG", exif=exif, **more)
    return out.getvalue()


def test_photos_of_holes_are_small_and_carry_nothing_of_the_camera() -> None:
    ground = Ground()
    photo = a_photo(quality=95)
    ground.write(
        "photo", tree=ground.trees[1], sha256=keep_bytes(photo), shows="hole", taken_at="2027-02-20T12:00:00.000Z"
    )
    ground.write("photo", tree=ground.trees[1], sha256=keep_bytes(a_photo(quality=20)))  # of the tree, not of the hole
    page, file = ground.text("report"), ground.paper("report", "pdf").data
    assert page.count("data:image/jpeg;base64,") == 1
    assert "Where H2 stood, 20 February 2027" in page
    assert file.count(b"/DCTDecode") == 1
    assert b"Maker of cameras" not in file
    assert b"Exif" not in file
    assert len(file) < len(photo) / 2


def test_a_photo_that_is_still_on_a_phone_is_told_of() -> None:
    ground = Ground()
    ground.write("photo", tree=ground.trees[1], sha256="ab" * 32, shows="hole")
    assert "The photo is not here yet." in ground.text("report")


def test_signed_letter_is_the_stored_one_whatever_the_leave_says_now() -> None:
    ground = Ground()
    for version, words in ((1, "first words"), (2, "second words")):
        letter = {"v": 1, "kind": "leave", "title": "T", "blocks": [{"kind": "para", "text": words}]}
        ground.write(
            "signing", leave=ground.leave, version=version, letter=letter, name="Ann", strokes=[[[1, 2], [3, 4]]]
        )
    write_changes([("leave", ground.leave, {"allowance": 99})])
    assert "second words" in ground.text("signed")
    assert "first words" in ground.text("signed", version=1)
    assert "99" not in ground.text("signed")
    with pytest.raises(NotFound, match="not signed"):
        ground.text("signed", version=3)


def sign(ground: Ground, **fields: Any) -> str:
    """Write a signing with its seal; return its id."""
    content = {"leave": ground.leave, "version": 1, "name": "Ann", "strokes": [[[1, 2], [3, 4]]], **fields}
    return ground.write("signing", **content, content_sha256=content_sha256(content))


def test_each_signed_letter_can_be_asked_for_also_of_two_with_one_version() -> None:
    ground = Ground()
    early = sign(ground, name="Ann at noon", signed_at="2027-02-01T12:00:00.000Z")
    late = sign(ground, name="Ann at dusk", signed_at="2027-02-01T17:00:00.000Z")
    for rec, name in ((early, "noon"), (late, "dusk"), (None, "dusk")):
        said = ground.text("signed", signing=rec)
        assert [word for word in ("noon", "dusk") if f"Ann at {word}" in said] == [name]
    with pytest.raises(NotFound, match="not signed"):
        ground.text("signed", signing=ground.leave)


def test_the_next_letter_names_the_day_of_the_signed_one_it_replaces() -> None:
    ground = Ground(form="spoken", given_on="2027-01-20")
    assert "puts in writing what was said on 20 January 2027" in ground.text("leave")
    sign(ground, signed_on="2027-01-26")
    ground.write("signing", leave=ground.leave, version=2, signed_on="2027-01-30", content_sha256="0" * 64)
    assert "takes the place of the one signed on 26 January 2027" in ground.text("leave")
    assert "puts in writing" not in ground.text("leave")


def test_a_letter_altered_after_signing_is_printed_as_it_was_signed_and_says_so() -> None:
    ground = Ground()
    rec = sign(ground)
    assert "changed on a device after it was signed" not in ground.text("signed")
    write_changes([("signing", rec, {"name": "Mallory", "version": 7})])
    for said in (ground.text("signed", version=1), text_of(ground.paper("signed", "pdf").data)):
        assert "Signed by" in said
        assert "Ann" in said
        assert "Mallory" not in said
        assert "changed on a device after it was signed" in said
    with pytest.raises(NotFound, match="not signed"):
        ground.text("signed", version=7)


def test_a_letter_that_never_fitted_its_seal_is_printed_with_that_doubt() -> None:
    ground = Ground()
    ground.write("signing", leave=ground.leave, version=1, name="Ann", content_sha256="0" * 64)
    assert "it may not be what was signed" in ground.text("signed")


def test_a_name_typed_as_the_signature_is_told_from_a_drawn_one() -> None:
    drawn, typed = Ground(), Ground()
    sign(drawn)
    sign(typed, strokes=None)
    for form, read in (("html", bytes.decode), ("pdf", text_of)):
        said = [read(one.paper("signed", form).data) for one in (drawn, typed)]
        assert ["typed as the signature, not drawn" in text for text in said] == [False, True]
        assert [text.count("Ann") for text in said] == [1, 2]  # as the one who signed, and where the strokes would be


def test_no_such_leave_and_no_signature_are_sentences() -> None:
    ground = Ground()
    with pytest.raises(NotFound, match="not signed on the glass"):
        ground.text("signed")
    write_changes([("leave", ground.leave, {"deleted": True})])
    with pytest.raises(NotFound, match="no leave of that name"):
        ground.text("leave")


def test_renewal_counts_the_lifts_of_the_leave_that_ends() -> None:
    assert "Under it 2 trees were lifted, of the 5 agreed." in Ground().text("renewal")


def test_pdf_and_page_say_the_same() -> None:
    ground = Ground(conditions=["Close the gates"])
    file, page = text_of(ground.paper("leave", "pdf").data), ground.text("leave")
    for words in (NAME, "both days count", "Close the gates.", "may withdraw this leave at any time"):
        assert words in file
        assert words in page


def test_page_stands_alone_and_encodes_what_people_wrote() -> None:
    ground = Ground(conditions=["<script>alert(1)</script> & more"])
    page = ground.text("leave")
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; more" in page
    for outside in ("<script", "http://", "https://", "url(", "@import", " style=", "onload"):
        assert outside not in page.lower()
    assert "@page { size: A4;" in page
    assert "@page { size: letter;" in ground.text("leave", size="letter")


def test_letters_that_no_font_has_are_told_in_a_sentence() -> None:
    ground = Ground()
    assert ground.paper("leave", "pdf").trouble == ()
    write_changes([("landholder", ground.ann, {"name": "𒀀𒁁"})])
    (told,) = ground.paper("leave", "pdf").trouble
    assert "𒀀 𒁁" in told


HOSTILE = {
    "turned around": "\u202e" + "gnol " * 400,
    "heaped accents": "Z" + "\u0301\u0323" * 240,
    "both directions": "(א b) " * 400,
    "many words": "wide " * 8000,
    "many lines": "one\n" * 2000,
    "markup": "</para><b>&amp;" * 30 + "${x} {{x}} %s <img src=x onerror=y>",
}


@pytest.mark.parametrize("words", HOSTILE.values(), ids=HOSTILE)
def test_hostile_words_make_a_paper_soon(words: str) -> None:
    ground = Ground(conditions=[words, words])
    write_changes([("landholder", ground.ann, {"name": words[:900], "address": words})])
    began = time.process_time()
    assert ground.paper("leave", "pdf").data.startswith(b"%PDF-")
    assert "onerror=y>" not in ground.text("leave")
    assert time.process_time() - began < 10


def test_a_name_turns_no_words_around_but_its_own() -> None:
    ground = Ground()
    write_changes([("landholder", ground.ann, {"name": "\u202egnoM\u2067 & Son"})])
    assert "gnoM &amp; Son" in ground.text("leave")
    assert not set("\u202a\u202b\u202d\u202e\u2066\u2067\u2068") & set(ground.text("leave"))


@pytest.mark.parametrize(
    ("word", "is_too_long"), [("x" * 499 + ".", False), ("x" * 501, True), ("." * 100_000 + "x", True)]
)
def test_a_word_longer_than_can_be_set_soon_is_refused_in_a_sentence(word: str, is_too_long: bool) -> None:
    ground = Ground(conditions=[word])
    if not is_too_long:
        assert ground.paper("leave", "pdf").data
        return
    for form in ("pdf", "html"):
        with pytest.raises(TooLarge) as refused:
            ground.paper("leave", form)
        assert refused.value.code == "too-long"
        assert len(refused.value.message) < 200


def test_a_paper_of_more_letters_than_can_be_set_soon_is_refused() -> None:
    ground = Ground(conditions=["word " * 70_000])
    assert ground.text("leave")
    write_changes([("leave", ground.leave, {"conditions": ["word " * 81_000]})])
    with pytest.raises(TooLarge, match="more than 400000 letters"):
        ground.paper("leave", "pdf")


def test_file_name_is_of_plain_letters() -> None:
    ground = Ground()
    write_changes([("site", ground.site, {"name": 'Żółty "Mech" / ../x'})])
    assert ground.paper("leave", "pdf").file_name == "leave-to-lift-trees-zo-ty-mech-x.pdf"


@pytest.mark.parametrize(
    ("kind", "form", "asked", "fault"),
    [
        ("dance", "pdf", {}, NotFound),
        ("leave", "docx", {}, NotFound),
        ("leave", "pdf", {"size": "a0"}, BadInput),
        ("report", "pdf", {"from": "yesterday"}, BadInput),
        ("report", "pdf", {"from": "2027-02-02", "to": "2027-02-01"}, BadInput),
        ("signed", "pdf", {"version": "0"}, BadInput),
        ("signed", "pdf", {"version": "١"}, BadInput),
    ],
)
def test_questions_that_make_no_sense_are_refused(kind: str, form: str, asked: dict[str, str], fault: type) -> None:
    with pytest.raises(fault):
        read_question(kind, "x", form, asked)


def test_empty_values_count_as_not_asked() -> None:
    empty = {"size": "", "from": "", "to": "", "version": ""}
    assert read_question("leave", "x", "pdf", empty) == Question("leave", "x", "pdf")
