"""Answers May I dig here? for the command line: one case, or a file of them."""

from __future__ import annotations

from collections.abc import Mapping

from field.core.errors import BadInput, FellsideError
from field.core.may_dig import may_dig

DONE = 0
SOME_REFUSED = 1
TOLD = ("answer", "reasons", "keep", "caution")


def answer(document: object) -> tuple[dict[str, object], int]:
    """Return the answer document and the exit status for a case, or for each of several.

    Args:
        document: one case (see `may_dig.may_dig`), by itself or under "input"; or {"cases": [{"name", "input"}]}.
    Returns: the answer and 0; for cases {"cases": [{"name", ...}]} with 0, or 1 when at least one was refused: that
        one has "error" in the place of an answer.
    Raises: BadInput if the document is neither, or its one case is refused.
    """
    if not isinstance(document, Mapping):
        raise BadInput(
            "The file holds no case.", "Give an object with here, site and leaves, or one with cases.", "document"
        )
    if "cases" not in document:
        return _answer_one(document), DONE
    cases = document["cases"]
    if not isinstance(cases, (list, tuple)):
        raise BadInput("The cases are not a list.", "Give a list of objects with name and input.", "cases")
    answers = [_answer_named(case) for case in cases]
    return {"cases": answers}, SOME_REFUSED if any("error" in told for told in answers) else DONE


def _answer_one(case: Mapping[str, object]) -> dict[str, object]:
    question = case["input"] if "input" in case and "here" not in case else case
    told = may_dig(question)
    return {name: told[name] for name in TOLD}


def _answer_named(case: object) -> dict[str, object]:
    name = case.get("name") if isinstance(case, Mapping) else None
    try:
        if not isinstance(case, Mapping):
            raise BadInput("A case is not an object.", "Give each case as an object with name and input.", "cases")
        return {"name": name, **_answer_one(case)}
    except FellsideError as refused:
        return {"name": name, **refused.as_json()}
