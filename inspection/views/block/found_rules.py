"""A rule's finding, with what the block and the sheet say beside it."""

from collections.abc import Hashable
from dataclasses import dataclass
from enum import StrEnum

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inspection.compute.judging import Outcome
from inspection.compute.quantities import (
    Kind,
    Source,
    columns_of,
)
from inspection.compute.stance import inputs_of
from inspection.loaders.block.findings import RuleFinding
from inspection.loaders.block.sheets import LoadedSheet, takeable_of
from inspection.loaders.block.values import ColumnValue
from inspection.words.quantities import column_name, quantity_name
from inventory.compute.numbers import Unit, format_value

#: So near to a limit a second person's reading is asked for.
NEAR_MM = 0.1
#: More than these would not be read while a car stands on the block.
MOST_TO_MEASURE = 2


class RuleGroup(StrEnum):
    """Where a rule stands in the list: what fails first."""

    FAILS = "fails"
    UNKNOWN = "unknown"
    HOLDS = "holds"


@dataclass(frozen=True, kw_only=True)
class FoundRule:
    """
    A finding, with what the page says beside it.

    ``needs`` are the labels of what it waits for, ``decided_by`` the columns that
    may be read to decide a value that was worked out.
    """

    found: RuleFinding
    went_under: bool | None
    wants_second_person: bool
    needs: tuple[str, ...] = ()
    decided_by: tuple[str, ...] = ()

    @property
    def is_failing(self) -> bool:
        finding = self.found
        return (
            finding.keeps_from_passing and finding.outcome is not Outcome.NOT_MEASURED
        )

    @property
    def is_near(self) -> bool:
        """Whether it is met, and too near to its limit to be sure."""
        finding = self.found
        near = {Outcome.CONDITIONAL_PASS, Outcome.CONDITIONAL_FAIL}
        return finding.outcome in near and finding.is_admitted

    @property
    def group(self) -> RuleGroup:
        """Under which heading it stands."""
        if self.is_failing:
            return RuleGroup.FAILS
        if self.found.outcome is Outcome.NOT_MEASURED:
            return RuleGroup.UNKNOWN
        return RuleGroup.HOLDS

    @property
    def to_measure(self) -> list[tuple[str, str]]:
        """Give the columns that decide it, with their names."""
        return [(column, column_name(column)) for column in self.decided_by]

    @property
    def source(self) -> str:
        """Say in few words where the value comes from, or what it waits for."""
        finding = self.found
        if finding.outcome is Outcome.NOT_MEASURED:
            return self._waits_for
        if finding.outcome is Outcome.NOT_APPLICABLE:
            return ""
        return self._of_own_columns if finding.is_taken else self._worked_out

    @property
    def _waits_for(self) -> str:
        if any(value.is_in_question for value in self.found.unread):
            return _("in question; read it again")
        if self.found.unread:
            return _("only declared; read it here")
        if self.found.unconfirmed:
            return _("nobody has looked at what the car is")
        if self.found.rule.required:
            return _("to look at")
        if not self.needs:
            return _("to measure")
        return _("needs %(what)s") % {"what": "; ".join(self.needs)}

    @property
    def _of_own_columns(self) -> str:
        own = columns_of(self.found.rule.quantity.key)
        values = [v for v in self.found.rests_on if v.column in own]
        return ", ".join(dict.fromkeys(_source_words(one) for one in values))

    @property
    def _worked_out(self) -> str:
        rests_on = [
            v for v in self.found.rests_on if v.quantity.kind is not Kind.DECLARED
        ]
        read = sum(v.source is Source.TAKEN for v in rests_on)
        others = len(rests_on) - read
        if not read:
            return _("worked out from what is stored")
        words = ngettext(
            "worked out from %(n)s reading", "worked out from %(n)s readings", read
        ) % {"n": read}
        if not others:
            return words
        return _("%(words)s, %(n)s stored") % {"words": words, "n": others}

    @property
    def other_evidence(self) -> tuple[ColumnValue, ...]:
        """What the finding rests on besides the readings of this sheet."""
        rests_on = self.found.rests_on
        own = (v for v in rests_on if v.source is not Source.TAKEN)
        return tuple(v for v in own if v.quantity.kind is not Kind.DECLARED)

    @property
    def disagreement(self) -> str:
        """A taken value beside the one worked out, and which of them decided."""
        finding, quantity = self.found, self.found.rule.quantity
        if not finding.disagrees or finding.value is None or finding.derived is None:
            return ""
        unit, sign = quantity.unit, {True: "≥ ", False: "< ", None: ""}
        taken = format_value(finding.value, decimals=finding.value_decimals, unit=unit)
        derived = format_value(finding.derived, decimals=quantity.decimals, unit=unit)
        return _(
            "taken %(taken)s and worked out %(derived)s disagree; the one taken decided"
        ) % {"taken": f"{sign[self.went_under]}{taken}", "derived": derived}

    @property
    def is_advice(self) -> bool:
        """Whether a rule that binds nobody is not met."""
        finding = self.found
        is_measured = finding.outcome is not Outcome.NOT_MEASURED
        return is_measured and not finding.rule.is_mandatory and not finding.is_admitted

    @property
    def limits(self) -> str:
        """The requirement, in few words."""
        finding = self.found
        if finding.lower is not None and finding.upper is not None:
            return _("allowed %(range)s") % {"range": self._asked}
        return self._asked

    @property
    def _asked(self) -> str:
        finding = self.found
        if finding.lower is not None and finding.upper is not None:
            words = {"low": finding.lower_number, "high": finding.upper_text}
            return _("%(low)s to %(high)s") % words
        if finding.lower is not None:
            return _("at least %(limit)s") % {"limit": finding.lower_text}
        return _("at most %(limit)s") % {"limit": finding.upper_text}

    @property
    def distance(self) -> str:
        """How far the value is from its limit, and on which side, in few words."""
        finding = self.found
        if finding.outcome is Outcome.NOT_MEASURED:
            return _("not measured")
        if finding.rule.required:
            is_met = finding.is_admitted and finding.value is not None
            return _("as asked") if is_met else self._as_asked
        if self.went_under is not None:
            return _("goes under") if self.went_under else _("does not go under")
        return self._away

    @property
    def margin_words(self) -> str:
        """The distance, with the requirement where it does not follow from it."""
        finding = self.found
        if finding.rule.required:
            return self._as_asked
        if self.went_under is not None:
            slip = self._slip
            return slip if finding.is_admitted else f"{slip}; {self.limits}"
        return "; ".join(filter(None, (self._away, self.limits)))

    @property
    def broken_words(self) -> str:
        """What the rule asks, and how the car is instead."""
        finding = self.found
        filled_in = {
            "label": quantity_name(finding.rule.quantity),
            "asked": self._asked,
        }
        if finding.rule.required:
            filled_in |= {"asked": finding.rule.required}
            if finding.outcome is Outcome.NOT_MEASURED:
                return _("%(label)s must be %(asked)s; nobody has looked") % filled_in
            filled_in |= {"seen": _("yes") if finding.value else _("no")}
            return _("%(label)s must be %(asked)s; it is %(seen)s") % filled_in
        if finding.outcome is Outcome.NOT_MEASURED:
            return _("%(label)s must be %(asked)s; it was not measured") % filled_in
        if self.went_under is not None:
            filled_in |= {"slip": self._slip}
            return _("%(label)s must be %(asked)s; %(slip)s") % filled_in
        filled_in |= {"value": self._value_text, "away": self._away}
        if finding.margin is None or finding.margin >= 0:
            return (
                _(
                    "%(label)s must be %(asked)s; it is %(value)s, %(away)s, too "
                    "near to be sure"
                )
                % filled_in
            )
        filled_in |= {"by": finding.short_by}
        if finding.lower is not None and (finding.value or 0.0) < finding.lower:
            words = _("%(label)s must be %(asked)s; it is %(value)s, %(by)s too little")
        else:
            words = _("%(label)s must be %(asked)s; it is %(value)s, %(by)s too much")
        return words % filled_in

    @property
    def _away(self) -> str:
        """A value's distance to its nearest limit; nothing where it has none."""
        finding = self.found
        if finding.margin is None:
            return ""
        words = _("%(by)s outside") if finding.margin < 0 else _("%(by)s to spare")
        return words % {"by": finding.short_by}

    @property
    def _as_asked(self) -> str:
        finding = self.found
        if finding.is_admitted and finding.value is not None:
            return _("as the rule asks")
        return _("must be %(wanted)s") % {"wanted": finding.rule.required}

    @property
    def _slip(self) -> str:
        """Whether the slip went under."""
        if not self.found.is_admitted:
            words = (
                _("the %(slip)s slip goes under")
                if self.went_under
                else _("the %(slip)s slip does not go under")
            )
        else:
            words = (
                _("the %(slip)s slip goes under, as the rule asks")
                if self.went_under
                else _("the %(slip)s slip does not go under, as the rule asks")
            )
        return words % {"slip": self._value_text}

    @property
    def _value_text(self) -> str:
        finding = self.found
        return format_value(
            finding.value or 0.0,
            decimals=finding.value_decimals,
            unit=finding.rule.quantity.unit,
        )

    @property
    def says(self) -> Hashable:
        finding = self.found
        return (
            finding.outcome.value,
            finding.is_admitted,
            finding.value,
            finding.u_value,
            finding.point,
            finding.derived,
            finding.disagrees,
            self.went_under,
            self.wants_second_person,
            self.needs,
            tuple((v.column, v.source.value, v.value) for v in finding.rests_on),
        )


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


def _source_words(value: ColumnValue) -> str:
    match value.source:
        case Source.TAKEN:
            count = len(value.reading_ids)
            mean = _("read now, mean of %(n)s") % {"n": count}
            return mean if count > 1 else _("read now")
        case Source.CARRIED:
            return _("carried over")
        case Source.FITTED_PART:
            return _("the part %(tag)s") % {"tag": value.part_tag}
        case Source.DECLARED:
            is_asked = value.is_in_question
            return _("in question") if is_asked else _("only declared")
        case _ if value.said_at is not None:
            at = date_format(value.said_at, "j M Y")
            return _("stored on %(at)s") % {"at": at}
        case _:
            return _("stored")
