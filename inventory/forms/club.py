"""Forms of the club: beginning it, and what it goes by."""

from functools import cache
from typing import Any, Final
from urllib.parse import urlsplit
from zoneinfo import available_timezones

from django import forms
from django.conf import settings
from django.http.request import validate_host
from django.utils.translation import gettext_lazy as _

from inventory.actions.club import ClubSettings
from inventory.actions.people.beginning import Founder
from inventory.compute.club_ways import DecimalSign, LengthShown, MembersSee
from inventory.compute.roles import Role
from inventory.forms.people.people import WithPasswordForm
from inventory.forms.seen import SeenForm
from inventory.models import Club
from inventory.words.enumerations import word_choices

_ALSO: Final = (
    (Role.CHIEF_SCRUTINEER, _("Chief scrutineer: rulebooks, nights, the block")),
    (Role.PARTS_KEEPER, _("Parts keeper: parts, pairing, gauges")),
    (Role.MEMBER, _("Member: cars of one’s own")),
)


class BeginForm(WithPasswordForm):
    """Who begins the club; the admin, and what else there is nobody for yet."""

    roles = forms.MultipleChoiceField(
        label=_("Besides admin you are"),
        choices=_ALSO,
        widget=forms.CheckboxSelectMultiple,
        initial=[role for role, _words in _ALSO],
        required=False,
        help_text=_("Whoever begins alone does it all; others can join in later."),
    )

    def __init__(self, data: object = None) -> None:
        super().__init__(data)
        self.fields["name"].label = _("Your name")
        self.fields["password"].label = _("Password")
        self.fields["password"].help_text = _("Twelve characters or more.")

    def founder(self) -> Founder:
        cleaned = self.cleaned_data
        return Founder(
            sign_in_name=cleaned["sign_in_name"],
            name=cleaned["name"],
            password=cleaned["password"],
            roles=[Role(word) for word in cleaned["roles"]],
        )


class ClubForm(SeenForm):
    """What the whole installation goes by."""

    name = forms.CharField(label=_("Name of the club"), max_length=80)
    place = forms.CharField(
        label=_("Where it meets"),
        max_length=80,
        required=False,
        help_text=_("Name and place stand on each sheet."),
    )
    address = forms.CharField(
        label=_("Address for printed codes"), max_length=200, required=False
    )
    time_zone = forms.ChoiceField(label=_("Time zone"), required=False)
    lets_own_cars_be_measured = forms.BooleanField(
        label=_("Scrutineers may measure cars of their own and of their family"),
        required=False,
        help_text=_("It is marked on sheet, board and list; others seal the sheet."),
    )
    members_see = forms.ChoiceField(
        label=_("Sheets that members may open"),
        choices=word_choices(MembersSee),
        required=False,
        help_text=_("Scrutineers and admins open all of them."),
    )
    lengths_in = forms.ChoiceField(
        label=_("Lengths on pages"),
        choices=[
            (LengthShown.MILLIMETRE, _("millimetres")),
            (LengthShown.INCH, _("inches")),
        ],
        required=False,
        help_text=_(
            "A reading is typed in either, with its mark, whatever is chosen here. "
            "Drawings, charts, published rules, files and what is sealed stay in mm."
        ),
    )
    decimal_sign = forms.ChoiceField(
        label=_("Decimal sign on pages"),
        choices=[
            (DecimalSign.POINT, _("point: 12.34")),
            (DecimalSign.COMMA, _("comma: 12,34")),
        ],
        required=False,
    )
    shows_hall = forms.BooleanField(
        label=_("A hall display may be opened without signing in"),
        required=False,
        help_text=_("Car numbers and states alone, no names."),
    )
    uses_own_repeatability = forms.BooleanField(
        label=_("u on the block counts how each scrutineer's own readings repeat"),
        required=False,
        help_text=_(
            "From 30 repeats of a person with a gauge on, in place of the usual figure "
            "of the quantity; the gauge's page shows them. Holds for sheets begun from "
            "now on, so tell the drivers."
        ),
    )
    keeps_people_months = forms.IntegerField(
        label=_("Months for which people are kept who do not come any more"),
        min_value=0,
        max_value=600,
        required=False,
        help_text=_(
            "0 or empty: until somebody erases them. Else they are erased after so "
            "many months, for good, without breaking a seal; who is due stands under "
            "“People who do not come any more” a month before."
        ),
    )

    def __init__(self, data: Any = None, *, club: Club | None, here: str) -> None:
        now = club or Club()
        names = set(self.base_fields) - {"seen"}
        super().__init__(data, initial={one: getattr(now, one) for one in names})
        self.of = club
        self.fields["address"].help_text = _(
            "Labels and sheets carry a code that a phone reads. Empty: it leads to "
            "where they were printed from, here %(here)s"
        ) % {"here": here}
        usual = _("as this computer is set: %(zone)s") % {"zone": settings.TIME_ZONE}
        self.fields["time_zone"].choices = [("", usual), *zones()]  # type: ignore[attr-defined]

    def clean_address(self) -> str:
        text: str = self.cleaned_data["address"].strip()
        if not text:
            return ""
        if not _leads_here(text):
            raise forms.ValidationError(
                _(
                    "“%(typed)s”: an address was expected such as http://192.168.1.20:"
                    "8000/, of this installation; it answers to %(hosts)s."
                ),
                code="not_an_address",
                params={"typed": text, "hosts": ", ".join(settings.ALLOWED_HOSTS)},
            )
        return f"{text.rstrip('/')}/"

    def said(self) -> ClubSettings:
        chosen = {
            "members_see": MembersSee(self._or_usual("members_see")),
            "lengths_in": LengthShown(self._or_usual("lengths_in")),
            "decimal_sign": DecimalSign(self._or_usual("decimal_sign")),
            "keeps_people_months": self.cleaned_data["keeps_people_months"] or 0,
        }
        cleaned = {k: v for k, v in self.cleaned_data.items() if k != "seen"}
        return ClubSettings(**{**cleaned, **chosen})

    def _or_usual(self, name: str) -> str:
        return self.cleaned_data[name] or str(self.initial[name])


def _leads_here(text: str) -> bool:
    """Tell whether an address is one that this installation answers to."""
    try:
        parts = urlsplit(text)
        host, _port = parts.hostname or "", parts.port
    except ValueError:
        return False
    is_bare = parts.path in {"", "/"} and not (parts.query or parts.fragment)
    named = f"[{host}]" if ":" in host else host
    return (
        parts.scheme in {"http", "https"}
        and is_bare
        and "@" not in parts.netloc
        and validate_host(named, settings.ALLOWED_HOSTS)
    )


@cache
def zones() -> list[tuple[str, list[tuple[str, str]]]]:
    """Give the time zones of the world, by continent."""
    names_by_region: dict[str, list[tuple[str, str]]] = {}
    for name in sorted(available_timezones()):
        region, _slash, city = name.partition("/")
        if city and region not in {"Etc", "SystemV", "US", "posix", "right"}:
            names_by_region.setdefault(region, []).append(
                (name, city.replace("_", " "))
            )
    return [*names_by_region.items(), ("UTC", [("UTC", "UTC")])]
