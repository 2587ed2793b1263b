"""The name a home goes by: what may be one, that it is remembered, and that former ones go on being answered to."""

from __future__ import annotations

from pathlib import Path

import pytest

from field.core.errors import BadInput, StoreTrouble
from field.services import home_name

PORT = 8420


def choose(data: Path, name: str | None = None, port: int | None = None):
    chosen, before = home_name.choose_name(data, name, port, PORT)
    home_name.remember_name(data, chosen)
    return chosen, before


@pytest.mark.parametrize(("said", "kept"), [("hut", "hut"), (" North-Barn.local ", "north-barn"), ("7", "7")])
def test_name_is_kept_in_its_one_form(said: str, kept: str) -> None:
    assert home_name.check_name(said) == kept


@pytest.mark.parametrize(
    "said",
    ["", ".local", "-hut", "hut-", "my hut", "hut.example", "hütte", "h" * 64, "hut\0", "localhost", "a" * 9999],
)
def test_what_is_no_name_is_refused_in_one_sentence(said: str) -> None:
    with pytest.raises(BadInput) as refused:
        home_name.check_name(said)
    assert refused.value.code == "home-name"


def test_sixty_three_letters_are_still_a_name() -> None:
    assert home_name.check_name("h" * 63) == "h" * 63


def test_first_choice_is_the_usual_one_and_no_change(data_dir) -> None:
    chosen, before = choose(data_dir)
    assert (chosen.address, before) == ("https://fellside.local:8420", None)
    assert chosen.hosts == ("fellside.local", "localhost")


def test_choice_is_remembered(data_dir) -> None:
    choose(data_dir, "hut", 9000)
    chosen, before = choose(data_dir)
    assert (chosen.address, before) == ("https://hut.local:9000", None)


def test_new_name_is_told_with_the_old_address_and_answers_to_the_old_name_too(data_dir) -> None:
    choose(data_dir, "hut")
    chosen, before = choose(data_dir, "barn")
    assert before is not None
    assert (chosen.address, before.address) == ("https://barn.local:8420", "https://hut.local:8420")
    assert chosen.hosts == ("barn.local", "hut.local", "localhost")
    assert choose(data_dir)[0].hosts == chosen.hosts


def test_going_back_to_a_name_lists_none_twice(data_dir) -> None:
    for name in ("hut", "barn", "hut"):
        chosen, _ = choose(data_dir, name)
    assert chosen.hosts == ("hut.local", "barn.local", "localhost")


def test_new_port_is_a_new_address(data_dir) -> None:
    choose(data_dir, "hut")
    chosen, before = choose(data_dir, None, 9000)
    assert before is not None
    assert (chosen.address, before.address) == ("https://hut.local:9000", "https://hut.local:8420")
    assert chosen.former == ()


def test_usual_port_of_https_is_left_out_as_browsers_do() -> None:
    assert home_name.HomeName("hut", 443).address == "https://hut.local"


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"name": "hut", "port": 8420}', '{"name": "my hut", "port": 8420, "former": []}',
             '{"name": "hut", "port": 0, "former": []}', '{"name": 7, "port": 8420, "former": []}', "\xff"]
)  # fmt: skip
def test_damaged_memory_is_said_and_nothing_is_guessed(data_dir, text: str) -> None:
    data_dir.mkdir()
    (data_dir / home_name.FILE_NAME).write_text(text, encoding="latin-1")
    for said in ((), ("hut",), (None, 8420)):
        with pytest.raises(StoreTrouble, match="cannot be read"):
            choose(data_dir, *said)
    assert choose(data_dir, "hut", 8420)[0].address == "https://hut.local:8420"
    assert choose(data_dir)[0].address == "https://hut.local:8420"
