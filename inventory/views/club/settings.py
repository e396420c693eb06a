"""What the club goes by: its name, where it is reached, its clock."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from inventory.access import allow
from inventory.actions.club import settle_club
from inventory.compute.roles import Ability
from inventory.forms.club import ClubForm
from inventory.models import Club
from inventory.views.acts import act_of, form_page
from inventory.views.turns import in_turn


@require_http_methods(["GET", "POST"])
@allow(Ability.SET_UP_CLUB)
@in_turn
def club(request: HttpRequest) -> HttpResponse:
    """Show and change what the club goes by."""
    here = request.build_absolute_uri("/")
    form = ClubForm(request.POST or None, club=Club.objects.first(), here=here)
    if form.is_valid():
        with form.refusing():
            settle_club(form.said(), act=act_of(request))
            messages.success(request, _("Kept."))
            return redirect("inventory:club")
    return form_page(
        request,
        form,
        "inventory/club/club.html",
    )
