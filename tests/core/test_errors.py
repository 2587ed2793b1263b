"""Errors carry one sentence, its cure and its place, in one shape."""

from __future__ import annotations

import pytest

from field.core import errors
from field.core.errors import BadInput, BadShape, FellsideError, NotFound, NotPaired


def test_one_shape_of_error() -> None:
    trouble = FellsideError("ended", "The leave has ended.", "Ask for a new one.", "leaves[0]")
    assert trouble.as_json() == {
        "error": {
            "code": "ended",
            "message": "The leave has ended.",
            "cure": "Ask for a new one.",
            "where": "leaves[0]",
        }
    }


def test_what_is_not_known_is_none_in_the_shape() -> None:
    assert NotFound("There is no such tree.").as_json() == {
        "error": {"code": "not-found", "message": "There is no such tree.", "cure": None, "where": None}
    }


def test_message_is_the_text_of_the_exception() -> None:
    assert str(BadInput("The latitude is over 90.")) == "The latitude is over 90."


@pytest.mark.parametrize(("kind", "code"), [(BadInput, "bad-input"), (BadShape, "bad-shape"), (NotPaired, "unpaired")])
def test_class_gives_the_usual_code(kind: type[BadInput], code: str) -> None:
    assert kind("Something.").code == code


def test_a_narrower_code_may_be_given() -> None:
    assert NotFound("The pack is gone.", code="no-pack").code == "no-pack"


def test_a_bad_shape_is_bad_input() -> None:
    with pytest.raises(BadInput):
        raise BadShape("The ring is open.", where="area")


def test_every_class_is_a_fellside_error_with_its_own_code() -> None:
    kinds = [
        kind
        for name, kind in vars(errors).items()
        if isinstance(kind, type) and issubclass(kind, Exception) and not name.startswith("_")
    ]
    assert all(issubclass(kind, FellsideError) for kind in kinds)
    codes = [kind("Something.").code for kind in kinds if kind is not FellsideError]
    assert len(codes) == len(set(codes))
