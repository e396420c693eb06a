"""The moves of a race night: exactly the agreed ones, all others refused."""

import itertools

import pytest

from inspection.compute.night.entries import (
    EntryState,
    MoveRefusedError,
    check_move,
    state_after_undoing,
)

# Agreement 16, written out by hand.
KNOWN = {
    ("waiting", "on block"),
    ("waiting", "withdrawn"),
    ("on block", "waiting"),
    ("on block", "passed"),
    ("on block", "sent back"),
    ("on block", "withdrawn"),
    ("sent back", "waiting"),
    ("sent back", "withdrawn"),
    ("passed", "on block"),
    ("passed", "withdrawn"),
    ("withdrawn", "waiting"),
    ("withdrawn", "sent back"),
    ("withdrawn", "passed"),
}


@pytest.mark.parametrize(
    ("start", "end"), list(itertools.product(EntryState, repeat=2)), ids=str
)
def test_move_is_known_or_refused_with_a_sentence(
    start: EntryState, end: EntryState
) -> None:
    if (start.value, end.value) in KNOWN:
        check_move(start, end)
        return
    with pytest.raises(MoveRefusedError) as refusal:
        check_move(start, end)
    assert f"“{start}”" in str(refusal.value)
    assert f"“{end}”" in str(refusal.value)


@pytest.mark.parametrize("before", EntryState)
def test_withdrawal_undone_leads_where_a_withdrawn_car_may_go(
    before: EntryState,
) -> None:
    if before is EntryState.WITHDRAWN:
        return
    back = state_after_undoing(before)
    check_move(EntryState.WITHDRAWN, back)
    was_on_block = before is EntryState.ON_BLOCK
    assert back is (EntryState.WAITING if was_on_block else before)
