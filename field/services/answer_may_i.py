"""Answers May I dig here? for the command line: one case, or a file of them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import BinaryIO

from field.core.errors import BadInput, FellsideError
from field.core.may_dig import may_dig
from field.services.case_shape import SEE_EXAMPLE

DONE = 0
SOME_REFUSED = 1
TOLD = ("answer", "reasons", "keep", "caution")
MOST_BYTES = 64 * 1024 * 1024  # a case with all its boundaries is some kilobytes; more is no case file


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


def read_case_file(stream: BinaryIO, name: str) -> object:
    """Return the document that a case file holds, not looked at yet.

    Args:
        stream: its bytes.
        name: what to call it.
    Raises: BadInput if it is larger than any case, or is not JSON.
    """
    raw = stream.read(MOST_BYTES + 1)
    if len(raw) > MOST_BYTES:
        raise BadInput(f"{name} is over {MOST_BYTES // 1024**2} MiB long: that is no case file.", SEE_EXAMPLE)
    if not raw.strip():
        raise BadInput(f"{name} is empty.", f"It should hold a case as JSON; {SEE_EXAMPLE}")
    try:
        return json.loads(raw.decode("utf-8-sig"))
    except json.JSONDecodeError as fault:
        at = f"{fault.msg.lower()} in line {fault.lineno}"
        raise BadInput(f"{name} is not JSON ({at}).", f"It should hold a case; {SEE_EXAMPLE}") from None
    except (ValueError, RecursionError):
        raise BadInput(f"{name} is not JSON in UTF-8.", f"It should hold a case; {SEE_EXAMPLE}") from None


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
