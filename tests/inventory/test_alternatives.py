"""One or other, however many."""

import pytest

from inventory.words.alternatives import one_or_other


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "–"),
        (["waiting"], "waiting"),
        (["waiting", "passed"], "waiting or passed"),
        (["waiting", "passed", "withdrawn"], "waiting or passed or withdrawn"),
    ],
)
def test_alternatives_are_joined(words: list[str], said: str) -> None:
    assert one_or_other(words) == said
