"""A rule's finding, with what the block and the sheet say beside it."""

from collections.abc import Hashable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from django.utils.formats import date_format
from django.utils.text import capfirst, slugify
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inspection.compute.judging import Outcome
from inspection.compute.quantities import (
    Kind,
    Source,
    columns_of,
)
from inspection.loaders.block.findings import RuleFinding
from inspection.loaders.block.values import ColumnValue
from inspection.words.quantities import column_name, quantity_name
from inventory.compute.numbers import format_value
from inventory.words.enumerations import word_of


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
    def line(self) -> dict[str, Any]:
        """Give what its line says, once: a template looks up a dozen things of it."""
        rule, outcome = self.found.rule, self.found.outcome
        return {
            "number": rule.number,
            "name": quantity_name(rule.quantity),
            "position": rule.position,
            "is_mandatory": rule.is_mandatory,
            "group": self.group,
            "mark": slugify(outcome.value),
            "word": capfirst(word_of(outcome)),
            "source": self.source,
            "distance": self.distance,
            "to_measure": self.to_measure,
        }

    @property
    def said(self) -> str:
        """What is said aloud when it changes."""
        finding = self.found
        away = (
            "" if finding.rule.required or self.went_under is not None else self._away
        )
        words = f"{finding.rule.number} {word_of(finding.outcome)}"
        return f"{words}, {away}" if away else words

    @property
    def is_alarm(self) -> bool:
        """Whether what is said of it interrupts what is being read out."""
        return self.found.outcome in {Outcome.FAIL, Outcome.CONDITIONAL_FAIL}

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
