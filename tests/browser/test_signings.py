"""What the phone knows of the versions signed for a leave: which stand, which were altered, what changed since."""

from __future__ import annotations

from typing import Any

import phone_kit as kit
from builders import an_id
from playwright.sync_api import Page

from field.core.signing import content_sha256, terms_of

READ = "const { readSignings } = await import('/static/js/hill/signings.js'); return readSignings(arg);"


def a_signing(leave: str, terms: dict[str, Any], **fields: Any) -> dict[str, Any]:
    """Return the fields of a letter signed for a leave with these terms, with the hash that home would make."""
    signing = {
        "leave": leave,
        "version": 1,
        "letter": {"v": 1, "kind": "leave", "title": "Leave to lift trees", "blocks": [], "terms": terms_of(terms, {})},
        "strokes": [[[100, 200], [140, 180]]],
        "name": "Isla Invented",
        "role": "owner",
        "signed_at": "2027-02-14T09:30:00.000Z",
        "signed_on": "2027-02-14",
        "zone": "Europe/London",
        **fields,
    }
    return {**signing, "content_sha256": content_sha256(signing)}


def a_leave(page: Page, **terms: Any) -> str:
    [leave] = kit.save(page, {"type": "leave", "set": {"form": "signed", **terms}})
    return leave


def test_a_letter_just_signed_stands(page: Page) -> None:
    leave = a_leave(page, allowance=5)
    kit.save(page, {"type": "signing", "set": a_signing(leave, {"allowance": 5})})
    [got] = kit.run(page, READ, leave)
    assert (got["intact"], got["differs"]) == (True, [])


def test_an_altered_letter_is_told_and_read_as_it_was_signed(page: Page) -> None:
    leave = a_leave(page)
    [rec] = kit.save(page, {"type": "signing", "set": a_signing(leave, {})})
    kit.save(page, {"rec": rec, "type": "signing", "set": {"name": "Somebody Else"}})
    [got] = kit.run(page, READ, leave)
    assert (got["intact"], got["signed"]["name"], got["record"]["fields"]["name"]) == (
        False,
        "Isla Invented",
        "Somebody Else",
    )


def test_an_alteration_with_a_fitting_hash_of_its_own_is_told_too(page: Page) -> None:
    leave = a_leave(page)
    [rec] = kit.save(page, {"type": "signing", "set": a_signing(leave, {})})
    kit.save(page, {"rec": rec, "type": "signing", "set": a_signing(leave, {}, name="Somebody Else")})
    [got] = kit.run(page, READ, leave)
    assert (got["intact"], got["signed"]["name"]) == (False, "Isla Invented")


def test_terms_changed_after_signing_are_told_in_words(page: Page) -> None:
    [old, new] = kit.save(
        page,
        {"type": "landholder", "set": {"name": "Isla Invented"}},
        {"type": "landholder", "set": {"name": "Ewan Invented"}},
    )
    terms = {"landholder": old, "ends_on": "2027-03-31", "allowance": 5, "conditions": ["Close the gates."]}
    leave = a_leave(page, **terms)
    kit.save(page, {"type": "signing", "set": a_signing(leave, terms)})
    now = {
        "landholder": new,
        "ends_on": "2027-04-30",
        "allowance": None,
        "max_girth_mm": 450,
        "methods": ["hand_tools"],
        "conditions": ["Fill the holes."],
    }
    kit.save(page, {"rec": leave, "type": "leave", "set": now})
    [got] = kit.run(page, READ, leave)
    assert got["differs"] == [
        "Landholder: Isla Invented when signed, Ewan Invented now",
        "Last day: 31 Mar 2027 when signed, 30 Apr 2027 now",
        "Girth limit: no limit when signed, 45 cm now",
        "Number: 5 when signed, no number now",
        "Methods: not agreed when signed, hand tools now",
        "Terms to keep: no longer “Close the gates.”; added “Fill the holes.”",
    ]
    assert got["intact"] is True


def test_versions_of_one_leave_stand_newest_first_and_both_of_one_number_are_kept(page: Page) -> None:
    leave, other = a_leave(page), a_leave(page)
    times = [(1, "09:00"), (2, "10:00"), (2, "11:00")]
    for version, at in times:
        signing = a_signing(leave, {}, version=version, signed_at=f"2027-02-14T{at}:00.000Z")
        kit.save(page, {"type": "signing", "set": signing})
    kit.save(page, {"type": "signing", "set": a_signing(other, {})})
    got = [one["record"]["fields"] for one in kit.run(page, READ, leave)]
    assert [(one["version"], one["signed_at"][11:16]) for one in got] == [(2, "11:00"), (2, "10:00"), (1, "09:00")]


def test_one_moved_to_another_leave_by_a_change_nobody_saw_is_shown_with_both(page: Page) -> None:
    leave, other, rec = a_leave(page), a_leave(page), an_id()
    kit.save(page, {"rec": rec, "type": "signing", "set": a_signing(leave, {})})
    unseen = {"id": rec, "type": "signing", "fields": {}, "stamps": {}, "conflicts": {}, "deleted": False}
    kit.save(page, {"rec": rec, "type": "signing", "set": {"leave": other}, "seen": unseen})
    assert [one["record"]["id"] for one in kit.run(page, READ, leave)] == [rec]
    assert [one["intact"] for one in kit.run(page, READ, other)] == [False]


def test_the_list_names_who_signed_and_not_who_was_written_in_later(page: Page) -> None:
    leave = a_leave(page)
    [rec] = kit.save(page, {"type": "signing", "set": a_signing(leave, {})})
    kit.save(page, {"rec": rec, "type": "signing", "set": {"name": "Somebody Else"}})
    listed = kit.run(
        page,
        """const { readSignings } = await import('/static/js/hill/signings.js');
        const { signedList } = await import('/static/js/ui/signed_list.js');
        return signedList(await readSignings(arg)).toString();""",
        leave,
    )
    assert "signed by Isla Invented" in listed
    assert "altered after signing" in listed
    assert "Somebody Else" not in listed
