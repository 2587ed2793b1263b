"""What House says of phones, and a dialog that stays open until it is known what came of it."""

from __future__ import annotations

import datetime as dt
from typing import Any

from phone_kit import call
from playwright.sync_api import Page, expect

AT = "2027-03-01T09:00:00.000Z"


def a_phone(device: str, name: str, **more: Any) -> dict[str, Any]:
    return {
        "device": device, "name": name, "role": "full", "paired_at": AT, "last_seen_at": None, "revoked": False,
        "signed_in": False, "copy_of": None, "own_token": True, "app": None, **more,
    }  # fmt: skip


def said(page: Page, name: str, *args: Any) -> Any:
    return call(page, "ui/phone_words", name, *args)


def test_two_phones_of_one_name_are_told_of_when_one_is_a_copy(blank: Page) -> None:
    first, copy = a_phone("a", "Anna's phone"), a_phone("b", "Anna’s phone", copy_of="a")
    [caution] = said(blank, "copyCautions", [first, copy])
    assert caution.startswith("Two phones go by the name “Anna's phone”: one is a copy of the other")
    assert "shut out all of them, and pair yours anew" in caution
    [of_three] = said(blank, "copyCautions", [first, copy, a_phone("c", "Anna's phone", copy_of="b")])
    assert of_three.startswith("3 phones go by the name")
    for settled in (
        [first, {**copy, "name": "Old phone"}],
        [first, {**copy, "revoked": True}],
        [{**first, "revoked": True}, copy],
        [first, {**copy, "copy_of": None}],
        [copy],
    ):
        assert said(blank, "copyCautions", settled) == []


def test_shutting_one_out_says_whom_else_it_concerns(blank: Page) -> None:
    first, copy = a_phone("a", "Hill phone"), a_phone("b", "Desk", copy_of="a", own_token=False)
    assert "“Desk”, a copy of it, has no key of its own yet and is shut out with it" in said(
        blank, "shutOutWords", first, [first, copy], False
    )
    assert "could still come under the name of “Hill phone”" in said(blank, "shutOutWords", copy, [first, copy], False)
    apart = {**copy, "own_token": True}
    usual = said(blank, "shutOutWords", a_phone("c", "Lent"), [first, apart], False)
    assert {said(blank, "shutOutWords", one, [first, apart], False) for one in (first, apart)} == {usual}
    assert "the one in your hand" in said(blank, "shutOutWords", first, [first], True)


def test_under_a_phone_stands_what_it_is_a_copy_of_and_whether_its_app_is_the_newest(blank: Page) -> None:
    now = dt.datetime.now(dt.UTC).isoformat()
    first = a_phone("a", "Hill phone", last_seen_at=now, app="v2")
    copy = a_phone("b", "Desk", copy_of="a", app="v1", role="record")
    lines = [said(blank, "underWords", one, [first, copy], "v2") for one in (first, copy, {**copy, "revoked": True})]
    assert "has the newest app" in lines[0]
    assert "copy of" not in lines[0]
    assert lines[1].startswith("may record · copy of “Hill phone” · last here never")
    assert "has an older app" in lines[1]
    assert lines[2] == "shut out · copy of “Hill phone” · last here never"
    assert "app" not in said(blank, "underWords", {**first, "app": None}, [first], "v2")
    assert "app" not in said(blank, "underWords", first, [first], None)  # an older home does not tell


def test_a_code_was_used_by_whoever_was_paired_since(blank: Page) -> None:
    code = {"role": "full", "good_until": AT}
    before = [a_phone("a", "Hill phone")]
    later = "2027-03-01T09:05:00.000Z"
    fresh, again = a_phone("b", "Desk", paired_at=later), {**before[0], "paired_at": later}
    cases = {
        "nobody": before,
        "a new one": [*before, fresh],
        "the same one, paired anew": [again],
        "one of another role": [*before, {**fresh, "role": "record"}],
        "a copy that turned up": [*before, {**fresh, "copy_of": "a"}],
    }
    used = {why: said(blank, "usedBy", code, before, now) for why, now in cases.items()}
    assert {why: one and one["name"] for why, one in used.items()} == {
        "nobody": None, "a new one": "Desk", "the same one, paired anew": "Hill phone", "one of another role": None,
        "a copy that turned up": None,
    }  # fmt: skip


def test_another_name_is_offered_where_two_are_called_alike(blank: Page) -> None:
    assert "“Anna 2” would tell them apart" in said(blank, "namedWords", "Anna", "Anna 2")
    assert said(blank, "namedWords", "Anna", None) == "It is called “Anna” now."
    for role in ("full", "record"):
        assert "can be called “Anna 2”" in said(blank, "pairedWords", role, "Anna 2")
        assert "called the same" not in said(blank, "pairedWords", role, None)


def test_a_dialog_stays_until_home_has_answered_and_shows_the_answer_beside_what_was_typed(page: Page) -> None:
    page.evaluate(
        """async () => {
          const {ask} = await import('/static/js/ui/dialog.js');
          const {textField} = await import('/static/js/ui/form.js');
          globalThis.asked = [];
          const send = (values) => new Promise((resolve) => {
            globalThis.asked.push(values);
            globalThis.answer = resolve;
          });
          const fields = textField({name: 'word', label: 'Word', required: true});
          globalThis.ended = null;
          ask({title: 'T', fields, yes: 'Go', send, busy: 'Asking home …'})
            .then((value) => { globalThis.ended = {value}; });
        }"""
    )
    dialog = page.locator("dialog")
    dialog.get_by_label("Word").fill("wrong")
    dialog.get_by_role("button", name="Go").click()
    expect(dialog.get_by_role("status")).to_have_text("Asking home …")
    dialog.get_by_role("button", name="Go").click()  # a second tap asks nothing twice
    dialog.get_by_role("button", name="Not now").click()  # nor is it closed while nobody knows what came of it
    page.keyboard.press("Escape")
    page.evaluate("globalThis.answer('That is wrong.')")
    expect(dialog.get_by_role("alert")).to_contain_text("That is wrong.")
    expect(dialog.get_by_label("Word")).to_have_value("wrong")
    dialog.get_by_label("Word").fill("right")
    dialog.get_by_role("button", name="Go").click()
    expect(dialog.get_by_role("status")).to_have_text("Asking home …")
    page.evaluate("globalThis.answer(null)")
    expect(dialog).to_have_count(0)
    assert page.evaluate("[globalThis.asked, globalThis.ended]") == [
        [{"word": "wrong"}, {"word": "right"}],
        {"value": {"word": "right"}},
    ]
