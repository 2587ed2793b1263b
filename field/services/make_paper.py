"""Makes the papers of a leave: the letter to sign, the signed one, the report of a visit, the one for another term."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from field.core.dates import find_date
from field.core.errors import BadInput, FellsideError, NotFound, TooLarge
from field.core.ground_middle import middle_of
from field.core.leave_letter import COLLECTOR_ID
from field.core.signing import find_signed, is_intact
from field.core.species import load_cards
from field.papers.how_long import find_excess
from field.papers.html_page import PAGE_SIZES, make_html
from field.papers.letters import Document, leave_paper, renewal_paper
from field.papers.map_sketch import Mark, Sketch, draw_sketch, find_area, hectares
from field.papers.pdf_pages import make_pdf
from field.papers.places import may_know_exactly, place_words
from field.papers.signed_letter import ALTERED, UNPROVEN, signed_paper
from field.papers.unprintable import missing_letters, printable
from field.papers.visit_report import visit_report
from field.papers.words import day_words
from field.services import keep_blob
from field.store import db, queries

KINDS = ("leave", "signed", "report", "renewal")
FORMS = {"pdf": "application/pdf", "html": "text/html; charset=utf-8"}
HOLE = "hole"
MIDDLE_M = 100.0  # the middle of a field is no finer than this; the phone says it alike
MOST_PHOTOS = 24  # in one report: a letter, no album
MOST_LETTERS = 4000  # of a person's own words: more than a page of them; the form says it alike


@dataclass(frozen=True, slots=True)
class Question:
    """Which paper is asked for."""

    kind: str
    leave: str
    form: str  # pdf or html
    size: str = "a4"  # or letter
    starts_on: date | None = None  # of the report: the days of the visit; None: the last day with a lift
    ends_on: date | None = None
    version: int | None = None  # of the signed letter; None: the last
    signing: str | None = None  # the very one of them, by its id; two phones may have signed one version
    words: str = ""  # the person's own, of a report or the letter for another term


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper that is made, ready to be handed over."""

    data: bytes
    media_type: str
    file_name: str  # plain letters only
    trouble: tuple[str, ...]  # sentences about what could not be shown


def read_question(kind: str, leave: str, form: str, asked: Mapping[str, Any]) -> Question:
    """Return a checked question.

    Args:
        asked: "size", "from", "to", "version", "signing", as texts, "words" of any kind; each may be missing.
    Raises: NotFound for a kind or form there is none of; BadInput for the rest.
    """
    if kind not in KINDS or form not in FORMS:
        raise NotFound("There is no such paper.", "Ask for leave, signed, report or renewal, as pdf or html.")
    size = asked.get("size") or "a4"
    if size not in PAGE_SIZES:
        raise BadInput("This size of paper is not known.", "Ask for a4 or letter.", "size")
    starts = find_date(asked.get("from") or None, "The first day of the visit", "from")
    ends = find_date(asked.get("to") or None, "The last day of the visit", "to")
    if starts is not None and ends is not None and ends < starts:
        raise BadInput("The last day lies before the first.", "Set one of them again.", "to")
    version = asked.get("version") or None
    if version is not None and re.fullmatch(r"[1-9][0-9]{0,5}", version, re.ASCII) is None:
        raise BadInput("The version of a letter is a whole number.", "Ask for 1, 2, 3 ...", "version")
    signing = asked.get("signing") or None
    words = asked.get("words") or ""
    if not isinstance(words, str) or len(words) > MOST_LETTERS:
        raise BadInput(f"Your own words are a text of at most {MOST_LETTERS} letters.", "Make them shorter.", "words")
    return Question(kind, leave, form, size, starts, ends, None if version is None else int(version), signing, words)


def make_paper(question: Question, today: date, style: str) -> Paper:
    """Return a paper as a file.

    Args:
        today: the day that is written on it, local.
        style: the style sheet of the HTML page.
    Raises: NotFound when there is no such leave, or it was not signed on the glass.
    """
    leave = queries.get_record("leave", question.leave)
    facts, sketch = _facts_of(leave, today)
    pictures: dict[str, bytes] = {}
    if question.kind == "leave":
        document = leave_paper(facts, sketch)
    elif question.kind == "signed":
        document = signed_paper(*_signing_of(question))
    elif question.kind == "renewal":
        document = renewal_paper(facts, _lifts_under(leave["id"]), sketch, question.words)
    else:
        document, pictures = _report(question, leave, facts)
    excess = find_excess(document)
    if excess is not None:
        raise TooLarge(excess, "Make that text shorter where it is written down; it is kept as it is.", code="too-long")
    if question.form == "pdf":
        data = make_pdf(printable(document), question.size, pictures)
    else:
        data = make_html(document, question.size, style, pictures).encode()
    return Paper(data, FORMS[question.form], _file_name(document, question.form), trouble_of(document))


def _facts_of(leave: Mapping[str, Any], today: date) -> tuple[dict[str, Any], Sketch | None]:
    site = queries.find_record("site", leave["site"]) if leave.get("site") else None
    holder = queries.find_record("landholder", leave["landholder"]) if leave.get("landholder") else None
    holding = next(
        (one for one in queries.records_where("holding", "site", leave["site"]) if one["landholder"] == holder["id"])
        if holder and leave.get("site")
        else iter(()),
        {},
    )
    boundary = None if site is None else site.get("boundary")
    ground = find_area(leave.get("area")) or find_area(boundary)
    cards = load_cards(queries.list_records("species_card"))
    facts = {
        "collector": queries.find_record("collector", COLLECTOR_ID),
        "landholder": holder,
        "role": leave.get("by_role") or holding.get("role") or (holder or {}).get("role"),
        "by_right": leave.get("by_right") or holding.get("by_right"),
        "site": {
            "name": None if site is None else site.get("name"),
            "grid_ref": place_words(*middle_of(ground), MIDDLE_M, exact=True) if ground else None,
            "area_ha": hectares(ground) if ground else None,
        },
        "leave": leave,
        "kinds": {kind: card.name for kind, card in cards.items()},
        "made_on": today.isoformat(),
        "signed_before_on": _signed_before(leave["id"]),
    }
    return facts, draw_sketch(boundary, leave.get("area"))


def _signings_of(leave: str) -> list[tuple[str, dict[str, Any], str]]:
    """Return what was signed for a leave, the newest first: id, fields as signed, and what is doubtful about it."""
    with db.snapshot() as session:
        histories = queries.signing_histories(session)
    signed = []
    for rec, (fields, written) in histories.items():
        first = find_signed(written)
        one = dict(first or fields)
        if not fields.get("deleted") and leave in (one.get("leave"), fields.get("leave")):
            doubt = UNPROVEN if first is None else "" if is_intact(fields, written) else ALTERED
            signed.append((rec, one, doubt))
    # Of two of one version, which two phones signed apart, the later one comes first.
    signed.sort(key=lambda one: (_whole(one[1].get("version")), str(one[1].get("signed_at") or "")), reverse=True)
    return signed


def _signing_of(question: Question) -> tuple[dict[str, Any], str]:
    """Return what was signed, and what is to be said of it where that is not what the log holds now."""
    for rec, fields, doubt in _signings_of(question.leave):
        if question.signing in (None, rec) and question.version in (None, fields.get("version")):
            return fields, doubt
    raise NotFound("This leave was not signed on the glass.", "Make the letter to sign instead.", question.leave)


def _signed_before(leave: str) -> str | None:
    """Return the day on which a leave was last signed, by a letter that stands as it was signed."""
    days = (fields.get("signed_on") for _, fields, doubt in _signings_of(leave) if not doubt)
    return next((day for day in days if isinstance(day, str)), None)


def _whole(value: object) -> int:
    return value if isinstance(value, int) else 0


def _report(question: Question, leave: Mapping[str, Any], facts: dict[str, Any]) -> tuple[Document, dict[str, bytes]]:
    under = _lifts_under(leave["id"])
    trees = {tree["id"]: tree for tree in queries.list_records("tree")}
    starts, ends = _days_of(question, under)
    lifts = [lift for lift in under if starts <= str(lift.get("lifted_on") or "") <= ends]
    leaves, holdings = queries.list_records("leave"), queries.list_records("holding")
    rows, marks = [], []
    for lift in lifts:
        tree = trees.get(lift.get("tree"), {})
        exact = may_know_exactly(leave.get("landholder"), lift, leaves, holdings)
        rows.append(
            {
                **lift,
                "kind": _kind_name(tree.get("species"), facts["kinds"]),
                "girth_mm": tree.get("girth_mm") if lift.get("girth_mm") is None else lift["girth_mm"],
                "where": place_words(lift.get("lat"), lift.get("lon"), lift.get("accuracy_m"), exact=exact),
            }
        )
        if exact and lift.get("lat") is not None and lift.get("lon") is not None:
            marks.append(Mark(lift["lat"], lift["lon"], str(tree.get("tag") or "")))
    photos, pictures = _hole_photos({lift.get("tree") for lift in lifts}, trees, starts)
    given = {one["id"] for one in leaves if leave.get("landholder") and one["landholder"] == leave["landholder"]}
    these = {lift.get("tree") for lift in lifts}
    earlier = {
        lift["tree"]: trees[lift["tree"]]
        for lift in queries.list_records("lift")
        if lift.get("leave") in given
        and lift.get("tree") in trees
        and lift["tree"] not in these
        and str(lift.get("lifted_on") or "") < starts
    }
    site = queries.find_record("site", leave["site"]) if leave.get("site") else None
    sketch = draw_sketch(None if site is None else site.get("boundary"), leave.get("area"), marks)
    return visit_report(facts, rows, photos, list(earlier.values()), len(under), sketch, question.words), pictures


def _lifts_under(leave: str) -> list[dict[str, Any]]:
    """Return the lifts under a leave in their order, each with the tag of its tree."""
    trees = {tree["id"]: tree for tree in queries.list_records("tree")}
    lifts = [
        {**lift, "tag": trees.get(lift.get("tree"), {}).get("tag")}
        for lift in queries.records_where("lift", "leave", leave)
    ]
    lifts.sort(key=lambda lift: tuple(str(lift.get(name) or "") for name in ("lifted_on", "lifted_at", "tag", "id")))
    return lifts


def _days_of(question: Question, under: list[dict[str, Any]]) -> tuple[str, str]:
    """Return the first and the last day of the report; those not asked for are those of the last day with a lift."""
    last = max((str(lift["lifted_on"]) for lift in under if lift.get("lifted_on")), default="")
    starts, ends = question.starts_on, question.ends_on
    if starts is None and ends is None:
        return last or "9999-12-31", last or "9999-12-31"
    return "" if starts is None else starts.isoformat(), "9999-12-31" if ends is None else ends.isoformat()


def _hole_photos(
    of: set[Any], trees: Mapping[Any, Mapping[str, Any]], starts: str
) -> tuple[list[dict[str, str]], dict[str, bytes]]:
    """Return the photos of filled holes, small and without any data of the camera."""
    found = [
        photo
        for photo in queries.records_where("photo", "shows", HOLE)
        if photo.get("tree") in of and photo.get("sha256")
    ]
    found.sort(key=lambda photo: (str(trees.get(photo["tree"], {}).get("tag") or ""), str(photo.get("taken_at") or "")))
    items, pictures = [], {}
    for photo in found[:MOST_PHOTOS]:
        tag = trees.get(photo["tree"], {}).get("tag") or "a tree"
        day = day_words(str(photo.get("taken_at") or "")[:10])
        items.append({"sha256": photo["sha256"], "caption": f"Where {tag} stood" + (f", {day}" if day else "")})
        try:
            pictures[photo["sha256"]] = keep_blob.preview(photo["sha256"]).read_bytes()
        except FellsideError:
            continue  # still on a phone, or no picture: the paper says so in its place
    return items, pictures


def _kind_name(kind: object, names: Mapping[str, str]) -> str | None:
    return names.get(kind, kind.replace("-", " ")) if isinstance(kind, str) else None


def trouble_of(document: Document) -> tuple[str, ...]:
    """Return what of a document cannot be shown, as sentences."""
    said = [
        text for block in document.get("blocks", ()) if block["kind"] == "sketch" for text in block["sketch"].trouble
    ]
    missing = missing_letters(document)
    if missing:
        cure = (
            " For Chinese, Japanese and Korean home needs its east-asia part: see README."
            if _east_asian(missing)
            else ""
        )
        instead = "That is said" if document.get("kind") == "signed" else "A line to write on stands"
        said.append(
            f"The PDF cannot show these letters: {' '.join(missing)}. {instead} in their place; Print and Save as a "
            f"page show them.{cure}"
        )
    return tuple(said)


def _east_asian(letters: str) -> bool:
    return any(unicodedata.name(one, "").startswith(("CJK", "HIRAGANA", "KATAKANA", "HANGUL")) for one in letters)


def _file_name(document: Document, form: str) -> str:
    parts = unicodedata.normalize("NFKD", document["subject"].lower())
    plain = "".join(one for one in parts if not unicodedata.combining(one))
    name = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-")
    return f"{name or document['kind']}.{form}"
