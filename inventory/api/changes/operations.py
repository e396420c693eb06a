"""The feed: what was done since, nothing lost and nothing twice."""

from typing import Any, Final

from inventory.actions.changes import number_changes
from inventory.api.changes.gives import Changes, ChangesAsked
from inventory.api.foundation.operations import Call, reads
from inventory.loaders.changes import changes_after, last_number

_AT_ONCE: Final = 500


@reads(Changes, query=ChangesAsked)
def list_changes(call: Call) -> dict[str, Any]:
    """
    Tell what was done since a cursor, in the order in which it came to be seen.

    Of things, not of people.  What a reading says is on its sheet, which is told of
    when it is sealed.  A club that was put back from a backup numbers its changes
    anew from where the backup was.
    """
    number_changes(at=call.act.at)
    since = call.said["since"]
    # Before the look: what is numbered meanwhile is for the next one.
    last = last_number()
    numbered = changes_after(since, call.person).filter(number__lte=last)
    changes = list(numbered[: _AT_ONCE + 1])
    shown, more = changes[:_AT_ONCE], len(changes) > _AT_ONCE
    cursor = shown[-1].number if more else max(last, since)
    return {"changes": shown, "cursor": cursor, "more": more}
