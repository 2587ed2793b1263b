"""The table of words is whole and plain; sentences are put together from it."""

from __future__ import annotations

import re

import pytest

from field.core.reasons import (
    ASK,
    CAUTION,
    CAUTION_DEPTH,
    NO,
    REASONS,
    Reason,
    Verdict,
    ask_words,
    consent_words,
    kind_words,
    listed,
    reason,
    sort_reasons,
)

# Design, section 4: what says no, what says ask; no-boundary is the project's own, for ground nobody drew, and methods
# for what the landholder agreed on tools; ground-check is for what was answered about the ground.
NO_CODES = {
    "no-leave", "not-begun", "ended", "withdrawn", "outside", "species", "girth", "used-up", "entitlement",
    "consent-missing", "consent-expired", "protected", "methods",
}  # fmt: skip
ASK_CODES = {
    "spoken", "edge", "coarse-fix", "species", "girth", "consent-unknown", "entitlement", "stale", "ending",
    "services", "no-boundary", "ground-check",
}  # fmt: skip


def test_every_code_of_the_rule_has_its_words() -> None:
    assert {words.code for words in REASONS.values() if words.weight == NO} == NO_CODES
    assert {words.code for words in REASONS.values() if words.weight == ASK} == ASK_CODES


@pytest.mark.parametrize("key", REASONS)
def test_words_are_full_short_sentences(key: str) -> None:
    for sentence in (REASONS[key].text, REASONS[key].cure):
        assert sentence.endswith(".")
        assert sentence[0].isupper()
        assert all(len(part.split()) <= 18 for part in re.split(r"[.:] ?", sentence))


@pytest.mark.parametrize("word", ["sync", "server", "app", "device", "data", "invalid", "error", "null", "GPS"])
def test_words_have_no_talk_of_software(word: str) -> None:
    told = " ".join([CAUTION, CAUTION_DEPTH, *(f"{row.text} {row.cure}" for row in REASONS.values())])
    assert re.search(rf"\b{word}\b", told, re.IGNORECASE) is None


def test_the_caution_names_law_and_landholder() -> None:
    assert "law" in CAUTION
    assert "landholder" in CAUTION


def test_whom_to_ask_reads_on_within_a_sentence() -> None:
    assert ask_words("The owner; Natural England for the reserve.") == "the owner; Natural England for the reserve"
    assert ask_words("Each network’s enquiry desk") == "each network’s enquiry desk"
    assert ask_words("NatureScot") == "NatureScot"
    assert [ask_words(nobody) for nobody in (None, "", " ")] == ["whoever can tell"] * 3


def test_a_reason_is_filled_in() -> None:
    assert reason("ended", day="31 January 2027") == Reason(
        "ended", "no", "The leave ended on 31 January 2027.", "Ask the landholder for a new leave."
    )


def test_a_missing_fact_is_a_fault_and_not_an_empty_place() -> None:
    with pytest.raises(KeyError):
        reason("ended")


def test_reasons_are_sorted_no_first_and_each_once() -> None:
    spoken, ended, begun = reason("spoken"), reason("ended", day="x"), reason("not-begun", day="y")
    assert sort_reasons([spoken, ended, spoken, begun, ended]) == (begun, ended, spoken)


@pytest.mark.parametrize(
    ("names", "words"),
    [(["birch"], "birch"), (["birch", "larch"], "birch and larch"), (["a", "b", "c"], "a, b and c")],
)
def test_names_are_listed_as_people_do(names: list[str], words: str) -> None:
    assert listed(names) == words


def test_kinds_and_consents_are_worded() -> None:
    assert kind_words("scots-pine") == "scots pine"
    assert consent_words("tree_order") == "tree order"
    assert consent_words("byelaw_of_the_common") == "byelaw of the common"
    assert consent_words("other", "common rights ") == "common rights"
    assert consent_words("other", " ") == consent_words("other") == "one that is not named"
    assert consent_words("tree_order", "common rights") == "tree order"
    assert consent_words(None) == "its kind is not noted"


def test_a_verdict_is_plain_data() -> None:
    verdict = Verdict("ask", (reason("spoken"),), ("close the gates",), CAUTION, "l1", "2027-01-31.2")
    assert verdict.as_json() == {
        "answer": "ask",
        "reasons": [
            {
                "code": "spoken",
                "weight": "ask",
                "text": "The leave was only spoken.",
                "cure": "Have it signed on paper, and photograph the paper.",
            }
        ],
        "keep": ["close the gates"],
        "caution": CAUTION,
        "leave": "l1",
        "rule": "2027-01-31.2",
    }
