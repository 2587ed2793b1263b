"""The PDFs of the papers, read by programs that did not write them."""

from __future__ import annotations

import hashlib
import io
import itertools
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from builders import SQUARE
from pdf_reader import ink_box, page_sizes, pictures_of, poppler, text_of
from PIL import Image

from field.core.errors import BadInput
from field.core.leave_letter import leave_letter
from field.papers.letters import leave_paper, renewal_paper
from field.papers.map_sketch import draw_sketch
from field.papers.pdf_file import read_picture
from field.papers.pdf_pages import FOOT, SIDE, make_pdf
from field.papers.signed_letter import signed_paper
from field.papers.typeset import shapeless
from field.papers.visit_report import visit_report

# Names as people bear them, invented; each with letters of another corner of writing.
LATIN = (
    "Zofia Wrzesień-Żółć",
    "Đặng Thị Hương",
    "Þórður Ægisson",
    "Şükrü Gülçin",
    "Γιώργος Αλεξίου",
    "Щукина Їжак Ґудзь",
)
ARABIC, HEBREW = "پروین علاء العلي", "שלום בן דוד"
THAI, DEVANAGARI = "น้ำใจ", "यशोधरा कृष्ण क्षत्रिय"


EAST_ASIA = ("山本 さくら", "李雪梅", "김 민수")


def a_letter(**facts: Any) -> dict[str, Any]:
    leave = {"starts_on": "2027-02-14", "ends_on": "2027-03-31", "conditions": ["close the gates"]}
    known = {
        "collector": {"name": LATIN[0], "address": "3 Kiln Row\nAlderhope", "phone": "01632 960 114"},
        "landholder": {"name": LATIN[1], "address": "Hopehead Farm"},
        "role": "owner",
        "site": {"name": "Hopehead Moss", "grid_ref": "NT 1154 1320", "area_ha": 26.8},
        "leave": leave,
        "made_on": "2027-01-03",
    }
    return leave_paper({**known, **facts}, draw_sketch(SQUARE, None))


@pytest.mark.parametrize(("size", "points"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_pages_have_the_size_that_was_asked_for(size: str, points: tuple[int, int]) -> None:
    # ISO 216: 210 x 297 mm; ANSI Y14.1 A: 8.5 x 11 inches; in points of 1/72 inch
    assert set(page_sizes(make_pdf(a_letter(), size))) == {points}


def test_another_size_is_refused_in_a_sentence() -> None:
    with pytest.raises(BadInput, match="not known"):
        make_pdf(a_letter(), "a0")


@pytest.mark.parametrize("name", [*LATIN, THAI, DEVANAGARI, HEBREW, ARABIC, *EAST_ASIA])
def test_a_name_comes_out_as_it_went_in(name: str) -> None:
    assert name in text_of(make_pdf(a_letter(landholder={"name": name}), "a4"))


@pytest.mark.parametrize("name", [*LATIN, THAI, DEVANAGARI, HEBREW, ARABIC, *EAST_ASIA])
def test_poppler_reads_a_name_as_it_went_in(name: str, tmp_path: Path) -> None:
    said = poppler("pdftotext", make_pdf(a_letter(landholder={"name": name}), "a4"), tmp_path, "-")
    plain = "".join(one for one in said if one not in "\u202a\u202b\u202c")  # poppler's own marks of direction
    assert name in " ".join(plain.split())


def test_poppler_finds_no_fault_title_pages_and_all_fonts_inside(tmp_path: Path) -> None:
    data = make_pdf(a_letter(landholder={"name": f"{LATIN[1]} {ARABIC} {THAI}"}), "a4")
    told = poppler("pdfinfo", data, tmp_path)
    assert "Title:           Leave to lift trees: Hopehead Moss" in told
    assert "Pages:           2" in told
    assert "Creator:         Fellside" in told
    assert "Producer" not in told  # no name of a machine or a library
    fonts = poppler("pdffonts", data, tmp_path).splitlines()[2:]
    assert len(fonts) >= 4
    assert all(line.split()[-5:-2] == ["yes", "yes", "yes"] for line in fonts)  # embedded, a part of it, tells letters


def test_every_page_has_ink_and_none_outside_its_margins() -> None:
    for size in ("a4", "letter"):
        data = make_pdf(
            a_letter(leave={"conditions": ["x" * 300, *("keep off the meadow " * 6 for _ in range(30))]}), size
        )
        pictures = pictures_of(data)
        assert len(pictures) >= 3
        for picture in pictures:
            box = ink_box(picture)
            assert box is not None
            assert box[0] >= 2 * SIDE - 4
            assert box[2] <= picture.width - 2 * SIDE + 4
            assert box[1] >= 100
            assert box[3] <= picture.height - 40  # the page's number stands in the foot


def test_pages_are_numbered_with_their_count() -> None:
    said = text_of(make_pdf(a_letter(leave={"conditions": [f"condition {n}" for n in range(60)]}), "a4"))
    assert "1 of 4" in said
    assert "4 of 4" in said
    assert "condition 59" in said.lower()


def test_the_sketch_is_drawn_with_its_bar_and_a_letter_without_ground_has_none() -> None:
    with_sketch, without = a_letter(), leave_paper({"site": {"name": "Hopehead"}}, None)
    said = text_of(make_pdf(with_sketch, "a4"))
    assert "200 m" in said  # the square is 631 m wide; three tenths of the drawing's width round down to 200 m
    assert "North is at the top" in said
    assert "North is at the top" not in text_of(make_pdf(without, "a4"))
    # The ground is filled with a light grey; elsewhere only the smoothed edges of letters have it.
    light = [
        max(sum(page.histogram()[233:237]) for page in pictures_of(make_pdf(letter, "a4")))
        for letter in (with_sketch, without)
    ]
    assert light[0] > 50_000
    assert light[1] < 5_000


def test_the_same_letter_makes_the_same_bytes_whatever_was_made_before() -> None:
    named = a_letter(landholder={"name": f"{DEVANAGARI} {ARABIC}"})
    once = make_pdf(named, "a4")
    make_pdf(a_letter(landholder={"name": f"{ARABIC[::-1]} {DEVANAGARI[::-1]} {THAI} {HEBREW}"}), "letter")
    assert make_pdf(named, "a4") == once
    code = "import hashlib, test_pdf; print(hashlib.sha256(test_pdf.made()).hexdigest())"
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(str(Path(__file__).parents[up]) for up in range(3))}
    fresh = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True)
    assert fresh.stdout.strip() == hashlib.sha256(made()).hexdigest()


def made() -> bytes:
    return make_pdf(a_letter(landholder={"name": f"{DEVANAGARI} {ARABIC}"}), "a4")


def test_letters_made_at_the_same_time_are_those_made_one_after_the_other() -> None:
    letters = [a_letter(landholder={"name": name}) for name in (*LATIN, ARABIC, HEBREW, THAI, DEVANAGARI, *EAST_ASIA)]
    with ThreadPoolExecutor(4) as pool:
        at_once = list(pool.map(lambda letter: make_pdf(letter, "a4"), letters * 2))
    assert at_once == [make_pdf(letter, "a4") for letter in letters] * 2


def test_a_letter_that_no_font_has_leaves_a_mark_and_is_told() -> None:
    assert shapeless("𒀀𒁁 Yama 𒀀") == "𒀀𒁁"  # cuneiform
    assert shapeless(" ".join((*LATIN, ARABIC, HEBREW, THAI, DEVANAGARI, *EAST_ASIA))) == ""
    assert "Dear \N{REPLACEMENT CHARACTER}\N{REPLACEMENT CHARACTER} Yama," in text_of(
        make_pdf(a_letter(landholder={"name": "𒀀𒁁 Yama"}), "a4")
    )


def test_without_the_large_font_its_letters_are_lines_to_write_on_and_all_others_drawn() -> None:
    code = (
        "import sys; sys.modules['noto_cjk_sans_jp_regular'] = None\n"  # as where it is not installed
        "from field.services.make_paper import trouble_of\n"
        "print(*map(ascii, trouble_of({'to': '山本 Żółw 김'}) + trouble_of({'to': '𒀀'})), sep='\\n')"
    )
    root = Path(__file__).parents[2]
    said = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True)
    han, cuneiform = said.stdout.splitlines()
    assert ascii("these letters: 山 本 김. A line to write on")[1:-1] in han
    assert "For Chinese, Japanese and Korean" in han
    assert "Chinese" not in cuneiform


def test_letters_drawn_as_areas_are_ink() -> None:
    with_han, without = (make_pdf(a_letter(landholder={"name": name}), "a4") for name in ("漢字" * 8, "\u3000" * 16))
    dark = [sum(picture.histogram()[:100]) for picture in (pictures_of(data)[0] for data in (with_han, without))]
    assert dark[0] > dark[1] + 5_000


def test_a_long_name_is_whole_where_it_is_to_be_signed() -> None:
    name = "The Trustees of the Hopehead and Alderhope Estates"
    said = text_of(make_pdf(a_letter(landholder={"name": name}), "a4"))
    assert f"Signature Name {name} Place" in said


def test_signs_that_steer_or_control_are_left_out_of_the_page() -> None:
    said = text_of(make_pdf(a_letter(landholder={"name": "An\u202en\x00a\ud800 B"}), "a4"))
    assert "Dear Anna B," in said


def test_a_signed_letter_shows_its_own_words_the_strokes_and_what_proves_it() -> None:
    letter = leave_letter({"landholder": {"name": LATIN[4]}, "site": {"name": "Old name"}})
    signing = {
        "version": 2,
        "letter": letter,
        "strokes": [[[0, 0], [1000, 400], [500, 100]], [[40, 40]]],
        "name": LATIN[4],
        "role": "owner",
        "place": "Yard gate",
        "signed_on": "2027-01-05",
        "signed_at": "2027-01-05T14:02:11.000Z",
        "content_sha256": "ab" * 32,
    }
    data = make_pdf(signed_paper(signing), "a4")
    said = text_of(data)
    assert "Old name" in said
    assert f"Signed by {LATIN[4]}" in said
    assert "Yard gate" in said
    assert "5 January 2027" in said
    assert "Version 2 of this letter." in said
    assert "ab" * 32 in said.replace(" ", "")
    bare = make_pdf(signed_paper({**signing, "strokes": [[[0, 0]]]}), "a4")
    dark = [sum(page.histogram()[:100]) for pdf in (data, bare) for page in pictures_of(pdf)[-1:]]
    assert dark[0] > dark[1] + 1_000  # the strokes are ink


def test_a_renewal_shows_the_sketch_that_its_terms_speak_of() -> None:
    sketch = draw_sketch(SQUARE, None)
    part, whole = (
        text_of(make_pdf(renewal_paper({"leave": {"area": area}}, [{}], sketch), "a4")) for area in (SQUARE, None)
    )
    assert ("only the area marked on the sketch" in part, "North is at the top" in part) == (True, True)
    assert ("the whole site" in whole, "North is at the top" in whole) == (True, False)


def test_the_answer_to_a_renewal_stands_on_one_page_with_its_signature() -> None:
    for count in range(1, 24):  # whatever stands before it
        leave = {"conditions": [f"condition number {n}" for n in range(count)]}
        data = make_pdf(renewal_paper({"leave": leave, "landholder": {"name": "Ann"}}, [{}], None), "a4")
        with pypdfium2.PdfDocument(data) as document:
            pages = [page.get_textpage().get_text_range() for page in document]
        (answer,) = (text for text in pages if "Your answer" in text)
        assert "Not this time." in answer
        assert "Signature" in answer


def test_no_heading_stands_alone_at_the_foot_of_a_page() -> None:
    headings = {"What is agreed", "Conditions to keep", "What holds in any case", "Signed"}
    lasts = []
    for size, count, lines in itertools.product(("a4", "letter"), range(6), range(3)):
        person = {"name": "Ann Orde", "address": "\n".join("abc"[:lines])}
        leave = {"conditions": [f"condition {n}" for n in range(count)]}
        facts = {"collector": person, "landholder": {"name": "Bo"}, "leave": leave, "made_on": "2027-01-01"}
        with pypdfium2.PdfDocument(make_pdf(leave_paper(facts, draw_sketch(SQUARE, None)), size)) as document:
            lasts += [page.get_textpage().get_text_range().splitlines()[-2].strip() for page in document]
    assert len(lasts) >= 2 * 6 * 3 * 2
    assert headings.isdisjoint(lasts)


def test_a_signing_that_holds_nonsense_still_makes_a_page() -> None:
    blocks = [
        3,
        {"kind": "dance"},
        {"kind": "para"},
        {"kind": "facts", "rows": [1, ["x"], ["a", 2]]},
        {"kind": "terms"},
    ]
    nonsense = {
        "letter": {"title": 5, "blocks": [*blocks, {"kind": "terms", "items": [{}, None, "one"]}, {"kind": "photos"}]},
        "strokes": [[1], "x", [[1, "y"]]],
    }
    assert "Signed" in text_of(make_pdf(signed_paper(nonsense), "a4"))


def test_a_report_tells_what_was_taken_what_remains_and_shows_the_holes() -> None:
    out = io.BytesIO()
    Image.new("RGB", (640, 480), (10, 10, 10)).save(out, "JPEG")
    lifts = [
        {
            "tag": "H1",
            "kind": "birch",
            "girth_mm": 305,
            "lifted_on": "2027-02-14",
            "where": "NT 1156 1300",
            "hole_filled": True,
            "kept_conditions": ["Close the gates"],
        }
    ]
    facts = {"leave": {"allowance": 6, "conditions": ["Close the gates", "No dogs"]}, "site": {"name": "Hopehead"}}
    photos = [{"sha256": "a", "caption": "Where H1 stood"}, {"sha256": "b", "caption": "Another"}]
    document = visit_report(facts, lifts, photos, [{"ended_as": None}, {"ended_as": "lost"}], 4, None)
    data = make_pdf(document, "a4", {"a": out.getvalue()})
    said = text_of(data)
    for words in (
        "On 14 February 2027, 1 tree was dug out under it.",
        "H1 birch 30.5 cm NT 1156 1300 14 Feb 2027 filled",
        "The hole was filled.",
        "We agreed on 6 trees; 4 trees have been lifted, and 2 trees remain.",
        "No dogs (not noted as kept)",
        "Of the 2 trees lifted before with your leave, 1 is growing on and 1 died.",
        "Where H1 stood",
        "The photo is not here yet.",
    ):
        assert words in said
    # The photo is 222 points wide and 167 high; two pixels a point, all of them black.
    assert max(sum(page.histogram()[:30]) for page in pictures_of(data)) > 100_000


def test_more_trees_than_agreed_are_owned_up_to() -> None:
    said = text_of(make_pdf(visit_report({"leave": {"allowance": 2}}, [], [], [], 3, None), "a4"))
    assert "We agreed on 2 trees; 3 trees have been lifted, 1 more than agreed." in said


def test_a_renewal_asks_and_leaves_the_new_dates_open() -> None:
    facts = {"leave": {"ends_on": "2027-03-31", "starts_on": "2026-01-01", "allowance": 6}, "made_on": "2027-03-01"}
    said = text_of(make_pdf(renewal_paper(facts, [{}], None), "a4"))
    assert "ends on 31 March 2027. Under it 1 tree was lifted, of the 6 agreed." in said
    assert "1 January 2026" not in said
    assert "ended on 31 March 2027" in text_of(
        make_pdf(renewal_paper({**facts, "made_on": "2027-04-01"}, [], None), "a4")
    )


def test_a_picture_is_read_with_its_size_and_nonsense_is_none() -> None:
    for mode in ("RGB", "L"):
        for progressive in (False, True):
            out = io.BytesIO()
            Image.new(mode, (31, 17)).save(out, "JPEG", progressive=progressive)
            found = read_picture(out.getvalue())
            assert found is not None
            assert found[1:] == (31, 17)
    for nonsense in (
        b"",
        b"\xff\xd8\xff\xe0\x00",
        b"GIF89a",
        b"%PDF-1.7",
        *(out.getvalue()[:n] for n in range(1, 300, 7)),
    ):
        found = read_picture(nonsense)
        assert found is None or found[1:] == (31, 17)


def test_a_damaged_picture_still_makes_a_page() -> None:
    out = io.BytesIO()
    Image.new("RGB", (31, 17)).save(out, "JPEG")
    photos = [{"sha256": name, "caption": f"Hole {name}"} for name in ("a", "b")]
    damaged = {"a": out.getvalue()[:400], "b": b"no picture"}
    said = text_of(make_pdf(visit_report({}, [{"tag": "H1"}], photos, [], 1, None), "a4", damaged))
    assert "Hole b" in said
    assert "The photo is not here yet." in said


def test_the_foot_of_a_page_is_where_its_number_stands() -> None:
    last = pictures_of(make_pdf(a_letter(), "a4"))[0]
    strip = last.crop((0, last.height - round(2 * FOOT) + 20, last.width, last.height))
    assert ink_box(strip) is not None
