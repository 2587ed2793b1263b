"""Where a tree stands: told, or in the main garden once it is lifted, or on its ground."""

from __future__ import annotations

from typing import Any

import pytest
from stands_cases import CASES

from field.core.stands_at import main_garden, stands_at


@pytest.mark.parametrize(("tree", "is_lifted", "gardens", "where"), CASES)
def test_a_tree_stands_where_it_was_told_or_is_expected(
    tree: dict[str, Any], is_lifted: bool, gardens: list[dict[str, Any]], where: str | None
) -> None:
    ids = [one["id"] for one in gardens]
    for order in (gardens, gardens[::-1]):
        assert stands_at(tree, is_lifted=is_lifted, gardens=ids, main=main_garden(order)) == where
