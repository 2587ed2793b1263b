"""A leave: written down, half written, withdrawn, its state by the day, and the paper that proves it."""

from __future__ import annotations

import hashlib
from pathlib import Path

import hill_kit as kit
import pytest
from home_server import wait_for
from phone_kit import call
from playwright.sync_api import expect
from pyproj import Geod

GEOD = Geod(ellps="WGS84")
PDF = b"%PDF-1.4\n1 0 obj<</Type/Catalog>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF\n"  # ISO 32000-1, 7.5


@pytest.fixture(scope="module")
def looking(browser, server):
    """A paired phone that saves nothing."""
    with kit.phone(browser, server) as page:
        yield page


def test_a_leave_is_written_down_and_taken_back_by_undo(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/leave/new?site={ground.site}")
        page.get_by_role("radio", name="someone new").check()
        page.get_by_role("button", name="Save the leave").click()
        expect(page.locator(".fault", has_text="How it was given: choose one.")).to_be_visible()
        page.get_by_label("Landholder’s name").fill("Isla Invented")
        page.get_by_role("radio", name="spoken only").check()
        page.get_by_role("textbox", name="Number of trees agreed").fill("3")
        page.get_by_role("textbox", name="Girth up to").fill("41,5")
        page.get_by_label("Term 1", exact=True).fill("Keep off the bracken.")
        page.get_by_role("button", name="Another term").click()
        page.get_by_label("Term 2", exact=True).fill("Close the gates.")
        page.keyboard.press("Enter")  # an empty row more, which is no term
        page.get_by_role("button", name="Term 2: further up").click()
        page.get_by_role("button", name="Save the leave").click()
        expect(page.get_by_text("Leave saved on this phone.")).to_be_visible()
        [holder] = [one for one in kit.records(page, "landholder") if one["fields"]["name"] == "Isla Invented"]
        [leave] = [one["fields"] for one in kit.records(page, "leave") if one["fields"]["landholder"] == holder["id"]]
        assert leave["site"] == ground.site
        assert (leave["form"], leave["allowance"], leave["max_girth_mm"]) == ("spoken", 3, 415)
        assert leave["conditions"] == ["Close the gates.", "Keep off the bracken."]
        assert leave["starts_on"] == kit.day()
        assert leave.get("ends_on") is None
        [holding] = [one["fields"] for one in kit.records(page, "holding")]
        assert (holding["site"], holding["landholder"]) == (ground.site, holder["id"])
        page.get_by_role("button", name="Undo").click()
        expect(page.get_by_text("Undone.")).to_be_visible()
        assert [one for one in kit.records(page, "leave") if one["fields"]["landholder"] == holder["id"]] == []
        assert [one for one in kit.records(page, "landholder") if one["id"] == holder["id"]] == []
        assert kit.records(page, "holding") == []


def test_a_leave_half_written_is_there_again_after_a_reload(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/leave/new?site={ground.site}")
        page.get_by_label("Term 1", exact=True).fill("Close the gates.")
        page.get_by_role("button", name="Another term").click()
        page.keyboard.type("Keep off the bra")
        page.get_by_label("Name on the paper").fill("I. Inv")
        page.get_by_role("textbox", name="Girth up to").fill("4o")
        kept = "async (key) => (await (await import('/static/js/store.js')).getDraft(key))?.max_girth_cm"
        key = f"leave-new-{ground.site}"
        wait_for(lambda: page.evaluate(kept, key) == "4o", "the draft is kept")
        page.reload()
        expect(page.get_by_label("Name on the paper")).to_have_value("I. Inv")
        expect(page.get_by_role("textbox", name="Girth up to")).to_have_value("4o")
        expect(page.get_by_label("Term 2", exact=True)).to_have_value("Keep off the bra")


def test_a_last_day_before_the_first_is_refused_at_its_field(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/leave/{ground.leave}")
        page.get_by_role("button", name="Change").click()
        page.get_by_label("Last day").fill(kit.day(-31))
        page.get_by_role("button", name="Save the leave").click()
        expect(page.locator(".fault", has_text="The last day lies before the first.")).to_be_visible()
        [leave] = [one for one in kit.records(page, "leave") if one["id"] == ground.leave]
        assert leave["fields"]["ends_on"] == kit.day(200)


def test_a_withdrawn_leave_is_told_in_words_and_can_be_taken_back(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/leave/{ground.leave}")
        page.get_by_role("button", name="It was withdrawn").click()
        page.get_by_label("Withdrawn on").fill(kit.day(-3))
        page.get_by_label("How you were told").fill("rang at noon")
        page.get_by_role("button", name="Save the withdrawal").click()
        expect(page.locator(".page-head .state")).to_contain_text("withdrawn on")
        page.get_by_role("button", name="Undo").click()
        expect(page.locator(".page-head .state")).to_contain_text("good until")


@pytest.mark.parametrize(
    ("change", "on", "word"),
    [
        ({}, "2027-02-14", "good"),
        ({}, "2026-11-01", "good"),
        ({}, "2026-10-31", "not begun"),
        ({}, "2027-03-27", "good"),
        ({}, "2027-03-28", "ends soon"),
        ({}, "2027-03-31", "ends soon"),
        ({}, "2027-04-01", "ended"),
        ({"withdrawn_on": "2027-02-14"}, "2027-02-14", "withdrawn"),
        ({"withdrawn_on": "2027-02-15"}, "2027-02-14", "to be withdrawn"),
        ({"allowance": 2}, "2027-02-14", "used up"),
        ({"allowance": 3}, "2027-02-14", "good"),
        ({"allowance": 1}, "2027-02-14", "1 over the number agreed"),
        ({"entitled": False}, "2027-02-14", "signer not entitled"),
        ({"entitled": None}, "2027-02-14", "signer not checked"),
        ({"form": "spoken"}, "2027-02-14", "spoken only"),
        ({"form": None}, "2027-02-14", "not in writing"),
        ({"ends_on": None}, "2040-01-01", "good"),
    ],
)
def test_leave_state_is_told_by_the_day(looking, change: dict[str, object], on: str, word: str) -> None:
    leave = {
        "starts_on": "2026-11-01",
        "ends_on": "2027-03-31",
        "allowance": 5,
        "form": "signed",
        "entitled": True,
        **change,
    }
    got = looking.evaluate(
        "async ([leave, on]) => (await import('/static/js/core/leave_state.js')).leaveState(leave, 2, on)", [leave, on]
    )
    assert got["word"] == word


@pytest.mark.parametrize(
    ("change", "word", "kind"),
    [
        ({}, "held", "good"),
        ({"until": "2027-02-13"}, "expired", "bad"),
        ({"until": "2027-02-14"}, "held", "good"),
        ({"starts_on": "2027-02-15"}, "not begun", "bad"),
        ({"starts_on": "2027-02-14"}, "held", "good"),
        ({"state": "needed"}, "needed, not held", "bad"),
        ({"state": None}, "not known", "ask"),
        ({"state": "not_needed", "until": "2020-01-01"}, "not needed", "good"),
    ],
)
def test_a_consent_is_told_by_the_day(looking, change: dict[str, object], word: str, kind: str) -> None:
    got = call(
        looking, "core/leave_state", "consentState", {"kind": "monument", "state": "held", **change}, "2027-02-14"
    )
    assert (got["word"], got["kind"]) == (word, kind)


def test_a_held_consent_that_has_not_begun_stands_against_its_site(looking) -> None:
    later = {"kind": "other", "state": "held", "starts_on": "2027-02-15"}
    got = call(looking, "core/leave_state", "consentsState", {}, [later], "2027-02-14")
    assert got == {"word": "consent not begun", "kind": "bad", "on": "2027-02-15"}


def test_papers_are_pictures_or_pdfs_and_what_is_neither_is_refused(browser, server, ground) -> None:
    """Each is saved at once with no signal; a cut-off picture is kept and said, a PDF opens by its own bytes."""
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/leave/{ground.leave}")
        paper = page.locator("[data-papers]")
        page.set_input_files(
            "input[name=choose]", {"name": "leave.txt", "mimeType": "image/jpeg", "buffer": b"not a picture at all"}
        )
        expect(paper.locator(".fault")).to_contain_text("“leave.txt” is neither a picture nor a PDF.")
        assert kit.records(page, "paper") == []
        whole = kit.a_photo("red")
        page.set_input_files("input[name=choose]", {**whole, "buffer": whole["buffer"][:150]})
        expect(page.locator(".notice", has_text="cut off or damaged. It is kept")).to_be_visible()
        page.set_input_files("input[name=choose]", {"name": "leave 3.pdf", "mimeType": "text/plain", "buffer": PDF})
        page.get_by_role("button", name="See it large: leave 3.pdf").click()
        with page.expect_download() as saved:
            page.get_by_role("link", name="Save a copy").click()
        assert saved.value.suggested_filename == "leave 3.pdf"
        assert Path(saved.value.path()).read_bytes() == PDF
        page.keyboard.press("Escape")
        kept = [one["fields"] for one in kit.records(page, "paper")]
        assert sorted((one["leave"], one["media_type"], one["file_name"]) for one in kept) == [
            (ground.leave, "application/pdf", "leave 3.pdf"),
            (ground.leave, "image/jpeg", "red.jpg"),
        ]
        page.get_by_role("button", name="Take it off: leave 3.pdf").click()
        expect(paper.get_by_text("leave 3.pdf")).to_have_count(0)
        page.get_by_role("button", name="Put it back").click()
        expect(paper.get_by_text("leave 3.pdf")).to_have_count(1)


def test_a_paper_over_25_mb_is_refused_in_words_before_it_is_read(looking) -> None:
    said = """async (bytes) => {
      const { readPaperFile } = await import('/static/js/hill/paper_files.js');
      const file = new File([new Uint8Array(bytes)], 'atlas.pdf');
      return readPaperFile(file).then(() => 'taken', (fault) => fault.message);
    }"""
    over = "“atlas.pdf” has 26 MB; a paper has at most 25. Photograph it, or save it smaller."
    assert looking.evaluate(said, 25 * 1024 * 1024 + 1) == over
    assert "neither a picture nor a PDF" in looking.evaluate(said, 25 * 1024 * 1024)


def test_the_paper_of_a_leave_is_seen_large_with_no_signal(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/leave/{ground.leave}")
        page.set_input_files("input[name=take]", kit.a_photo("red"))
        large = page.get_by_role("dialog", name="The paper")
        page.get_by_role("button", name="See it large: red.jpg").click()
        picture = large.get_by_role("img", name="The signed paper")
        expect(picture).to_be_visible()
        assert picture.evaluate("async (img) => { await img.decode(); return img.naturalWidth; }") > 0
        fits = picture.evaluate("img => img.clientWidth")
        large.get_by_role("button", name="Larger, to read it").click()
        assert picture.evaluate("img => img.clientWidth") > fits
        # nothing lies before the frame's edge, where it could not be reached
        assert picture.evaluate("img => img.offsetLeft - img.parentElement.offsetLeft") >= 0
        page.keyboard.press("Escape")
        expect(large).to_have_count(0)
        expect(page.get_by_role("button", name="See it large: red.jpg")).to_be_focused()


# --- renewal, the lock of a signature, an area of its own -------------------------------------------------------------


def test_a_renewal_carries_the_terms_over_and_leaves_the_old_leave_as_it_was(browser, server, ground) -> None:
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/leave/{ground.leave}")
        old = next(one for one in kit.records(page, "leave") if one["id"] == ground.leave)["fields"]
        page.get_by_role("link", name="Renew", exact=True).click()
        expect(page.get_by_role("heading", name="Renew the leave")).to_be_visible()
        page.get_by_role("button", name="Save the leave").click()
        expect(page.locator(".page-head .state")).to_have_text("asked, no answer yet")
        [new] = [one for one in kit.records(page, "leave") if one["fields"].get("renews") == ground.leave]
        told = {name: new["fields"].get(name) for name in ("starts_on", "ends_on", "form", "by_role", "conditions")}
        assert told == {
            "starts_on": kit.day(201),  # the day after the old last day
            "ends_on": kit.day(431),  # and as many days as from -30 to 200
            "form": "asked",
            "by_role": "owner",
            "conditions": ["close the gates"],
        }
        assert next(one for one in kit.records(page, "leave") if one["id"] == ground.leave)["fields"] == old
        page.get_by_role("link", name="Renews").click()
        expect(page.get_by_role("link", name="Renewed by")).to_be_visible()


def test_the_terms_of_a_signed_leave_change_only_into_a_version_to_be_signed_again(browser, server) -> None:
    own = kit.Ground()
    own.add("signing", leave=own.leave, version=1, name="I. Invented", signed_on=kit.day(-20), letter={"terms": {}})
    kit.seed(server, own)
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/leave/{own.leave}")

        def change(field: str, value: str) -> None:
            page.get_by_role("button", name="Change", exact=True).click()
            page.get_by_role("textbox", name=field).fill(value)
            page.get_by_role("button", name="Save the leave").click()

        def leave() -> dict[str, object]:
            return next(one for one in kit.records(page, "leave") if one["id"] == own.leave)["fields"]

        change("Note", "ring first")
        expect(page.get_by_role("heading", name="Leave of the farm")).to_be_visible()
        assert (leave()["form"], leave()["note"]) == ("signed", "ring first")
        change("Number of trees agreed", "9")
        expect(page.get_by_role("dialog")).to_contain_text("You are changing the number.")
        page.get_by_role("button", name="Leave it as it was signed").click()
        assert (leave()["form"], leave()["allowance"]) == ("signed", 5)
        page.get_by_role("button", name="Save the leave").click()
        page.get_by_role("button", name="Make a new version").click()
        expect(page.locator(".page-head .state")).to_contain_text("spoken only")
        assert (leave()["form"], leave()["allowance"]) == ("spoken", 9)
        page.get_by_role("button", name="Undo the change").last.click()
        expect(page.locator(".page-head .state")).to_contain_text("good until")
        assert (leave()["form"], leave()["allowance"]) == ("signed", 5)


def test_a_site_drawn_otherwise_is_not_what_was_signed_unless_the_person_says_so(browser, server) -> None:
    own = kit.Ground()
    own.add("signing", leave=own.leave, version=1, name="I. Invented", signed_on=kit.day(-20), letter={"terms": {}})
    kit.seed(server, own)
    with kit.phone(browser, server) as page:

        def leave_form() -> str:
            return next(one for one in kit.records(page, "leave") if one["id"] == own.leave)["fields"]["form"]

        kit.go(page, f"#/site/{own.site}")
        for answer, form, east in (("The same ground", "signed", "-3.391"), ("Other ground", "spoken", "-3.38")):
            page.get_by_role("button", name="Change the boundary").click()
            page.get_by_text("Type the corners, or bring an area from elsewhere").click()
            page.get_by_label("Corners, track or area").fill(f"55.40, -3.40\n55.40, {east}\n55.405, -3.395")
            page.get_by_role("button", name="Read it").click()
            page.locator("[data-act=save]").click()
            expect(page.get_by_role("dialog")).to_contain_text("One leave was signed for the whole of this site")
            page.get_by_role("button", name=answer).click()
            expect(page.get_by_role("button", name="Change the boundary")).to_be_visible()
            assert leave_form() == form
        page.get_by_role("button", name="Undo the change").last.click()
        expect(page.get_by_text("Undone.")).to_be_visible()
        assert leave_form() == "signed"


def test_a_leave_has_an_area_of_its_own_and_is_told_where_it_leaves_the_site(browser, server, ground) -> None:
    beyond = GEOD.inv(-3.395, kit.NORTH, -3.395, 55.4065)[2]  # the area's corner lies straight north of the edge
    with kit.phone(browser, server) as page:
        kit.go(page, f"#/leave/{ground.leave}")
        page.get_by_role("button", name="Draw an area of its own").click()
        page.get_by_text("Type the corners, or bring an area from elsewhere").click()
        page.get_by_label("Corners, track or area").fill("55.401, -3.398\n55.401, -3.392\n55.4065, -3.395")
        page.get_by_role("button", name="Read it").click()
        expect(page.locator("[data-corner]")).to_have_count(3)
        kit.go(page, "#/ground")
        kit.go(page, f"#/leave/{ground.leave}")
        expect(page.locator("[data-corner]")).to_have_count(3)  # a drawing left open comes back
        page.locator("[data-act=save]").click()
        expect(page.locator("[data-area]")).to_contain_text(f"It reaches up to {round(beyond)} m outside the boundary")
        leave = next(one for one in kit.records(page, "leave") if one["id"] == ground.leave)["fields"]
        assert leave["area"]["coordinates"][0][2] == [-3.395, 55.4065]
        page.get_by_role("button", name="It covers the whole site").click()
        expect(page.locator("[data-area]")).to_contain_text("The whole of Kettle Brae.")


def test_what_follows_what_and_what_is_history_is_told_by_the_records(blank) -> None:
    def leave(rec: str, word: str, renews: str | None = None) -> dict[str, object]:
        return {"record": {"id": rec, "fields": {"renews": renews}}, "state": {"word": word}, "id": rec}

    def ids(leaves: list[dict[str, object]]) -> list[object]:
        return [one["record"]["id"] for one in leaves]

    chain = [{"id": i, "fields": {"renews": r}} for i, r in (("a", None), ("b", "a"), ("c", "b"), ("d", "b"))]
    got = call(blank, "core/leave_terms", "leaveChain", chain, "b")
    assert ([one["id"] for one in got["before"]], [one["id"] for one in got["after"]]) == (["a"], ["c", "d"])
    ring = [{"id": i, "fields": {"renews": r}} for i, r in (("a", "b"), ("b", "a"))]
    got = call(blank, "core/leave_terms", "leaveChain", ring, "a")
    assert ([one["id"] for one in got["before"]], got["after"]) == (["b"], [])
    for leaves, now, history in (
        ([], [], []),
        ([leave("a", "good")], ["a"], []),
        ([leave("b", "good", "a"), leave("a", "ended")], ["b"], ["a"]),
        ([leave("b", "withdrawn", "a"), leave("a", "ended")], ["b"], ["a"]),
        ([leave("a", "ended"), leave("b", "ended", "a")], ["b"], ["a"]),
    ):
        split = call(blank, "core/leave_terms", "splitHistory", leaves)
        assert (ids(split["now"]), ids(split["history"])) == (now, history)


def test_a_renewal_begins_after_the_old_leave_but_never_before_today(blank) -> None:
    for ends_on, starts_on, new_end in (
        ("2027-03-31", "2027-04-01", "2027-08-29"),  # 150 days from 1 Nov to 31 Mar, and from 1 Apr to 29 Aug
        ("2027-02-13", "2027-02-14", "2027-05-29"),  # 104 days; today is the day after
        ("2026-12-01", "2027-02-14", "2027-03-16"),  # over for long: from today, 30 days
        (None, "2027-02-14", None),
    ):
        old = {"site": "s", "starts_on": "2026-11-01", "ends_on": ends_on, "withdrawn_on": "2027-01-01", "note": "x"}
        new = call(blank, "core/leave_terms", "renewalOf", "a", old, "2027-02-14")
        asked = {"form": "asked", "given_on": "2027-02-14"}
        assert new == {"site": "s", "renews": "a", **asked, "starts_on": starts_on, "ends_on": new_end}


def test_an_area_is_held_against_its_site_along_its_edges_also_over_the_180th_meridian(blank) -> None:
    def ring(*corners: tuple[float, float]) -> dict[str, object]:
        return {"type": "Polygon", "coordinates": [[[lon, lat] for lon, lat in [*corners, corners[0]]]]}

    site = ring((179.99, 10), (-179.99, 10), (-179.99, 10.01), (179.99, 10.01))
    inside = ring((179.995, 10.002), (-179.995, 10.002), (-179.995, 10.008))
    assert call(blank, "core/leave_terms", "areaBeyondM", site, inside) == 0
    assert call(blank, "core/leave_terms", "areaBeyondM", None, inside) is None
    # Both corners of an edge lie inside, and the edge itself crosses the notch of the boundary.
    notched = ring((0, 0), (0.01, 0), (0.01, 0.01), (0.006, 0.01), (0.005, 0.002), (0.004, 0.01), (0, 0.01))
    across = ring((0.002, 0.008), (0.002, 0.001), (0.008, 0.001), (0.008, 0.008))
    outside = call(blank, "core/leave_terms", "areaBeyondM", notched, across)
    # At 0.008 of latitude the notch is 0.0015 degrees wide: its middle is 0.00075 from each side, which leans 1 in 8.
    half = GEOD.inv(0.005, 0.008, 0.00575, 0.008)[2] * 8 / 65**0.5
    assert abs(outside - half) < 5  # metres: half a step of ten along the edge


def test_every_term_that_a_signature_covers_has_its_word_and_nothing_else_is_locked(blank) -> None:
    covered = blank.evaluate("async () => (await import('/static/js/core/signing.js')).TERMS")
    free = ["note", "signed_by", "entitled", "withdrawn_on", "paper", "by_right", "given_on"]
    words = call(blank, "core/leave_terms", "touchedTerms", {}, dict.fromkeys([*covered, *free], 1))
    assert len(words) == len(covered) == 9
    assert None not in words


# --- home and a second phone ------------------------------------------------------------------------------------------


def test_a_pdf_of_one_phone_comes_to_another_before_its_signal_is_gone(browser, server, ground) -> None:
    with kit.phone(browser, server, signal=True) as page:
        kit.go(page, f"#/leave/{ground.leave}")
        page.set_input_files("input[name=choose]", {"name": "lease.pdf", "mimeType": "", "buffer": PDF + b"%far\n"})
        expect(page.get_by_role("button", name="See it large: lease.pdf")).to_be_visible()
        kit.sync(page)
        sent = "async () => (await import('/static/js/upload.js')).sendPhotos()"
        wait_for(lambda: page.evaluate(sent)["left"] == 0, "the paper is at home")
    with kit.phone(browser, server, signal=True) as page:
        kit.go(page, "#/ground")
        sha = hashlib.sha256(PDF + b"%far\n").hexdigest()
        here = "async (sha) => (await import('/static/js/store.js')).isKeptHere(sha)"
        wait_for(lambda: page.evaluate(here, sha), "the paper has come")
        waiting = "async () => (await (await import('/static/js/store.js')).counts()).photos_unsent"
        wait_for(lambda: page.evaluate(waiting) == 0, "what came from home does not wait to go there")
        page.context.set_offline(True)
        kit.go(page, f"#/leave/{ground.leave}")
        expect(page.locator(".paper-row", has_text="lease.pdf")).not_to_contain_text("not on this phone yet")
        page.get_by_role("button", name="See it large: lease.pdf").click()
        expect(page.get_by_role("link", name="Open the PDF")).to_be_visible()
