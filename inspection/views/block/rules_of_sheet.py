"""The rules of a sheet as the block shows them, each with what would decide it."""

from inspection.compute.judging import Outcome
from inspection.compute.quantities import Source, columns_of
from inspection.compute.stance import inputs_of
from inspection.loaders.block.findings import RuleFinding
from inspection.loaders.block.sheets import LoadedSheet, takeable_of
from inspection.views.block.found_rules import FoundRule
from inspection.words.quantities import column_name
from inventory.compute.numbers import Unit

#: So near to a limit a second person's reading is asked for.
NEAR_MM = 0.1
#: More than these would not be read while a car stands on the block.
MOST_TO_MEASURE = 2


def rules_of(loaded: LoadedSheet) -> list[FoundRule]:
    """Give the findings with what a page says beside them."""
    takeable = frozenset(
        [
            *loaded.to_take.tonight,
            *loaded.to_take.stored,
            *takeable_of(loaded.rules, loaded.to_take),
        ]
    )
    return [_with_remarks(loaded, finding, takeable) for finding in loaded.findings]


def _with_remarks(
    loaded: LoadedSheet,
    finding: RuleFinding,
    takeable: frozenset[str],
) -> FoundRule:
    columns = columns_of(finding.rule.quantity.key)
    taken = [
        loaded.values[c] for c in columns if finding.is_taken and c in loaded.values
    ]
    bounds = [one.went_under for one in taken if one.went_under is not None]
    tried = finding.went_under if finding.is_taken else None
    people = {r.by_id for r in loaded.readings if r.column in columns}
    is_near = (
        finding.margin is not None
        and not bounds
        and tried is None
        and finding.rule.quantity.unit is Unit.MILLIMETRE
        and abs(finding.margin) <= NEAR_MM
    )
    return FoundRule(
        found=finding,
        # Of two slips one may be the limit's; the first seals did not say which.
        went_under=bounds[0] if bounds and tried is None else tried,
        wants_second_person=is_near and len(people) == 1,
        needs=_needs(loaded, finding),
        decided_by=_decided_by(loaded, finding, takeable),
    )


def _needs(loaded: LoadedSheet, finding: RuleFinding) -> tuple[str, ...]:
    """Name what a rule waits for, two at most."""
    if finding.outcome is not Outcome.NOT_MEASURED or finding.rule.required:
        return ()
    carrier = loaded.sheet.entry.car.front_carrier
    inputs = inputs_of(finding.rule.quantity.key, carrier)
    lacking = [c for c in loaded.waiting_columns if c in inputs]
    named = dict.fromkeys(column_name(c).lower() for c in lacking)
    return tuple(named)[:2]


def _decided_by(
    loaded: LoadedSheet, finding: RuleFinding, takeable: frozenset[str]
) -> tuple[str, ...]:
    """
    Give what may be read to decide a failing value that was worked out.

    Itself, if it can be taken; else what it was worked out from, what nobody has read
    on this sheet first.
    """
    is_failing = (
        finding.keeps_from_passing and finding.outcome is not Outcome.NOT_MEASURED
    )
    if not is_failing or finding.is_taken:
        return ()
    own = [c for c in columns_of(finding.rule.quantity.key) if c in takeable]
    if own:
        return tuple(own)
    rests_on = [v for v in finding.rests_on if v.column in takeable]
    rests_on.sort(key=lambda value: value.source is Source.TAKEN)
    return tuple(value.column for value in rests_on[:MOST_TO_MEASURE])
