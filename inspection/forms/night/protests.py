"""Forms of a protest."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.compute.night import ProtestRuling
from inspection.models import RaceClass, RaceNight, Rule
from inventory.compute.roles import ROLES_THAT_MAY, Ability
from inventory.forms.base import PageForm
from inventory.models import Person
from inventory.words.enumerations import word_choices


class ClaimForm(PageForm):
    """What is said to be wrong."""

    claim = forms.CharField(
        label=_("What is wrong"),
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class ProtestForm(ClaimForm):
    """The rule that a car is said to break, and how."""

    rule = forms.ModelChoiceField(Rule.objects.none(), label=_("Rule"))
    field_order = ("rule", "claim")

    def __init__(self, data: Any = None, *, editions: list[int]) -> None:
        super().__init__(data)
        rules = Rule.objects.filter(edition__in=editions).order_by("position")
        field = self.fields["rule"]
        field.queryset = rules  # type: ignore[attr-defined]
        field.label_from_instance = _rule_said  # type: ignore[attr-defined]


class HearerForm(PageForm):
    """Who hears a protest in place of the chief: somebody who can sign in."""

    person = forms.ModelChoiceField(
        Person.objects.active()
        .filter(grants__role__in=ROLES_THAT_MAY[Ability.LOOK])
        .order_by("name", "sign_in_name")
        .distinct(),
        label=_("Who hears it"),
    )

    def __init__(self, data: Any = None) -> None:
        super().__init__(data)
        # Two people may have one name.
        field = self.fields["person"]
        field.label_from_instance = _with_sign_in_name  # type: ignore[attr-defined]


class ProtestRulingForm(PageForm):
    """What becomes of a protest, and why."""

    ruling = forms.ChoiceField(
        label=_("Ruling"),
        choices=word_choices(ProtestRuling),
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label=_("Reason"),
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def offer(self, *, hears: bool, may_withdraw: bool) -> None:
        """Show only the rulings that are this person's to make."""
        offered = dict.fromkeys(ProtestRuling, hears)
        offered[ProtestRuling.WITHDRAWN] = may_withdraw
        self.fields["ruling"].choices = word_choices(  # type: ignore[attr-defined]
            one for one, is_theirs in offered.items() if is_theirs
        )


class ProtestTimeForm(PageForm):
    """How long after a ruling a class may protest: one of a night's, or any."""

    race_class = forms.ModelChoiceField(RaceClass.objects.none(), label=_("Class"))
    minutes = forms.IntegerField(
        label=_("Minutes to protest after a ruling"), min_value=1, max_value=1440
    )

    def __init__(self, data: Any = None, *, night: RaceNight | None = None) -> None:
        super().__init__(data)
        classes = RaceClass.objects.all()
        if night is not None:
            classes = classes.filter(pk__in=night.classes.values("race_class"))
        self.fields["race_class"].queryset = classes  # type: ignore[attr-defined]


def _rule_said(rule: Rule) -> str:
    return f"{rule.number} {rule.sentence}"


def _with_sign_in_name(person: Person) -> str:
    return f"{person.name} ({person.sign_in_name})"
