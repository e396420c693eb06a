"""How long each class may protest after a ruling, as one of the club's settings."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from inspection.actions.rulings.protests import set_protest_time
from inspection.compute.night import USUAL_MINUTES
from inspection.forms.night.protests import ProtestTimeForm
from inspection.models import ProtestTime, RaceClass
from inventory.access import allow
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page


@require_http_methods(["GET", "POST"])
@allow(Ability.SET_UP_CLUB)
def protest_times(request: HttpRequest) -> HttpResponse:
    """List the classes with the time of each, and set one."""
    form = ProtestTimeForm(request.POST or None)
    if form.is_valid():
        cleaned = form.cleaned_data
        set_protest_time(cleaned["race_class"], cleaned["minutes"], act=act_of(request))
        messages.success(
            request,
            _("%(race_class)s may protest for %(minutes)d minutes after a ruling.")
            % cleaned,
        )
        return redirect("inspection:protest_times")
    minutes = dict(ProtestTime.objects.values_list("race_class", "minutes"))
    classes = [
        (one, minutes.get(one.pk, USUAL_MINUTES)) for one in RaceClass.objects.all()
    ]
    return form_page(
        request,
        form,
        "inspection/night/protest_times.html",
        {"classes": classes},
    )
