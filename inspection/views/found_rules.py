"""A rule's finding, with what the block and the sheet say beside it."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from inspection.compute.conformity import Outcome
from inspection.compute.quantities import columns_of
from inspection.loaders.sheets import LoadedSheet, RuleFinding
from inventory.compute.units import Unit

#: So near to a limit a second person's reading is asked for.
NEAR_MM = 0.1


@dataclass(frozen=True, kw_only=True)
class FoundRule:
    """A finding, with what the page says beside it."""

    found: RuleFinding
    went_under: bool | None
    wants_second_person: bool

    @property
    def is_failing(self) -> bool:
        found = self.found
        return found.holds_up and found.outcome is not Outcome.NOT_MEASURED

    @property
    def is_advice(self) -> bool:
        """Whether a rule that binds nobody is not met."""
        found = self.found
        is_measured = found.outcome is not Outcome.NOT_MEASURED
        return is_measured and not found.rule.is_mandatory and not found.is_admitted

    @property
    def limits(self) -> str:
        """The requirement, in few words."""
        found = self.found
        if found.lower is not None and found.upper is not None:
            low = found.lower_text.removesuffix(found.rule.quantity.unit.symbol)
            words = {"low": low.strip(), "high": found.upper_text}
            return _("%(low)s to %(high)s") % words
        if found.lower is not None:
            return _("at least %(limit)s") % {"limit": found.lower_text}
        return _("at most %(limit)s") % {"limit": found.upper_text}

    @property
    def says(self) -> object:
        found = self.found
        return (
            found.outcome,
            found.is_admitted,
            found.value,
            found.u_value,
            found.point,
            found.derived,
            found.disagrees,
            self.went_under,
            self.wants_second_person,
        )


def rules_of(loaded: LoadedSheet) -> list[FoundRule]:
    """Give the findings with what a page says beside them."""
    return [_with_remarks(loaded, found) for found in loaded.findings]


def _with_remarks(loaded: LoadedSheet, found: RuleFinding) -> FoundRule:
    columns = columns_of(found.rule.quantity.key)
    taken = [loaded.values[c] for c in columns if found.is_taken and c in loaded.values]
    bounds = [one.went_under for one in taken if one.went_under is not None]
    people = {r.by_id for r in loaded.readings if r.column in columns}
    is_near = (
        found.margin is not None
        and not bounds
        and found.rule.quantity.unit is Unit.MILLIMETRE
        and abs(found.margin) <= NEAR_MM
    )
    return FoundRule(
        found=found,
        went_under=bounds[0] if bounds else None,
        wants_second_person=is_near and len(people) == 1,
    )
