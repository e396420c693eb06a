"""A race night: the states of an entry, their moves, and what chains of seals hold."""

from inspection.compute.night.car_numbers import next_free_number
from inspection.compute.night.chains import (
    Link,
    chained_hash,
    first_broken,
    link_holds,
    linked_hash,
    name_hash,
    text_hash,
)
from inspection.compute.night.clocks import ClockJump, clock_jump
from inspection.compute.night.entries import (
    KIND_OF_POSITION,
    ROLES_OF_POSITION,
    TYRES_OF_AXLE,
    Axle,
    Decision,
    EntryState,
    MoveRefusedError,
    PartPosition,
    ReadingKind,
    SheetState,
    check_move,
    state_after_undoing,
)
from inspection.compute.night.held_facts import Difference, Occasion, differing
from inspection.compute.night.notices import NoticeKind
from inspection.compute.night.protests import (
    USUAL_MINUTES,
    ProtestRuling,
    is_in_time,
)
from inspection.compute.night.queues import minutes_a_car, minutes_until_turn
from inspection.compute.night.rulings import Ruling
from inspection.compute.night.samples import drawn_names, seed_hash
from inspection.compute.night.standings import Standing, standing_of

# In reading order.
__all__ = [  # noqa: RUF022
    "EntryState",
    "Decision",
    "SheetState",
    "ReadingKind",
    "PartPosition",
    "KIND_OF_POSITION",
    "ROLES_OF_POSITION",
    "Axle",
    "TYRES_OF_AXLE",
    "Ruling",
    "ProtestRuling",
    "USUAL_MINUTES",
    "is_in_time",
    "seed_hash",
    "drawn_names",
    "MoveRefusedError",
    "check_move",
    "state_after_undoing",
    "next_free_number",
    "Standing",
    "NoticeKind",
    "minutes_a_car",
    "minutes_until_turn",
    "standing_of",
    "Link",
    "chained_hash",
    "linked_hash",
    "text_hash",
    "link_holds",
    "first_broken",
    "name_hash",
    "Occasion",
    "Difference",
    "differing",
    "ClockJump",
    "clock_jump",
]
