"""The tasks of wire: looked at as its kind grows, settled by a look, off at once where it bites, one by one."""

from __future__ import annotations

from care_kit import T, a_history, a_tree, a_work, plan, span

ON = "w-wire-2028-09-01"


def a_look(on: str, bites: str, about: str | None = ON) -> dict[str, object]:
    return a_work("look", on, detail={"bites": bites, "wire": about})


def looks(kind: str, on: str, today: str, *more: dict[str, object]) -> list[str]:
    """Return the first days of the looks that are told, in order."""
    tree = a_tree(species=kind)
    found = plan(tree, a_history(works=[a_work("wire", on), *more]), today)
    return sorted(task["from"] for name, task in found.items() if ":wire-look" in name)


def test_the_first_look_is_as_far_off_as_the_kind_grows_wire_in() -> None:
    # trade: fast growers every 2 weeks; the others by the same care every 4 and 8 (common practice)
    assert looks("birch", "2028-09-01", "2028-09-02")[0] == "2028-09-15"
    assert looks("beech", "2028-09-01", "2028-09-02")[0] == "2028-09-29"
    assert looks("yew", "2028-09-01", "2028-09-02")[0] == "2028-10-27"


def test_in_may_to_july_every_kind_is_looked_at_weekly() -> None:
    assert looks("yew", "2028-05-03", "2028-05-04")[:3] == ["2028-05-10", "2028-05-17", "2028-05-24"]


def test_a_look_that_was_not_ticked_stands_until_the_next_one_and_no_longer() -> None:
    assert looks("beech", "2028-09-01", "2028-10-26")[0] == "2028-09-29"
    assert looks("beech", "2028-09-01", "2028-10-27")[0] == "2028-10-27"


def test_a_look_that_was_noted_settles_the_one_it_is_nearest_to() -> None:
    assert looks("birch", "2028-09-01", "2028-09-20", a_look("2028-09-14", "none"))[0] == "2028-09-29"
    # within the first half of the two weeks it was another look
    assert looks("birch", "2028-09-01", "2028-09-20", a_look("2028-09-05", "none"))[0] == "2028-09-15"
    assert looks("birch", "2028-09-01", "2028-09-20", a_look("2028-09-14", "none", "another"))[0] == "2028-09-15"


def test_wire_that_bites_is_to_come_off_at_once() -> None:
    def off(*more: dict[str, object]) -> tuple[str, str]:
        wired = a_history(works=[a_work("wire", "2028-09-01"), *more])
        return span(plan(history=wired, today="2028-09-20")[f"birch:wire-off:{ON}.0"])

    assert off() == ("2028-10-13", "2028-11-10")  # 6 to 10 weeks
    assert off(a_look("2028-09-16", "begins")) == ("2028-09-16", "2028-09-23")
    assert off(a_look("2028-09-16", "bitten")) == ("2028-09-16", "2028-09-16")
    assert off(a_look("2028-09-16", "begins"), a_look("2028-09-18", "none")) == ("2028-10-13", "2028-11-10")
    assert off(a_look("2028-09-16", "odd")) == ("2028-10-13", "2028-11-10")


def test_wire_put_on_at_rest_is_due_off_by_weeks_that_growth_begins() -> None:
    wired = a_history(works=[a_work("wire", "2028-12-01")])
    found = plan(history=wired, today="2029-03-02")
    off = next(task for name, task in found.items() if ":wire-off:" in name)
    assert span(off) == ("2029-04-12", "2029-05-10")  # 6 to 10 weeks from 1 March


def test_of_two_wirings_one_can_come_off_alone() -> None:
    second = a_work("wire", "2028-09-08")
    one_off = a_work("unwire", "2028-10-20", detail={"wire": ON})
    found = plan(history=a_history(works=[a_work("wire", "2028-09-01"), second, one_off]), today="2028-10-21")
    wirings = {name.split(":")[-1].rsplit(".", 1)[0] for name in found if ":wire-" in name}
    assert wirings == {str(second["id"])}
    all_off = a_work("unwire", "2028-10-20")
    found = plan(history=a_history(works=[a_work("wire", "2028-09-01"), second, all_off]), today="2028-10-21")
    assert not [name for name in found if ":wire-" in name]


def test_nonsense_in_the_figures_of_a_work_changes_nothing() -> None:
    whole = plan(history=a_history(works=[a_work("wire", "2028-09-01")]), today="2028-09-02")
    for detail in (7, "wire", [], {"wire": 3, "bites": ["none"]}, {"bites": None}):
        odd = [a_work("wire", "2028-09-01", detail=detail), a_work("look", "2028-09-10", detail=detail)]
        assert plan(history=a_history(works=odd), today="2028-09-02") == whole
    assert all(task["tree"] == T for task in whole.values())


def test_a_task_says_which_wire_it_is_about_in_the_words_of_its_note() -> None:
    left, right = a_work("wire", "2026-06-20", note="lowest branch, left."), a_work("wire", "2026-06-01")
    found = plan(history=a_history("2020-03-09", works=[left, right]), today="2026-06-25")
    texts = {key: task["text"] for key, task in found.items() if ":wire-off:" in key}
    assert [text.endswith(" This wire: lowest branch, left.") for _, text in sorted(texts.items())] == [False, True]
    long = a_work("wire", "2026-06-20", note="x" * 61)
    (text,) = (
        task["text"]
        for key, task in plan(history=a_history("2020-03-09", works=[long]), today="2026-06-25").items()
        if ":wire-off:" in key
    )
    assert text.endswith(f" This wire: {'x' * 59} ….")
