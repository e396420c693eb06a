"""Room for parts: the sizes of a car that no rule speaks of."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from inspection.access import ANYONE_SIGNED_IN
from inspection.actions.rooms import store_room_sizes
from inspection.forms.rooms import RoomForm
from inspection.models import RoomSize
from inspection.views.garage import car_of
from inventory.access import allow
from inventory.actions.refusals import RefusedError
from inventory.views.acts import act_of


@require_http_methods(["GET", "POST"])
@allow(ANYONE_SIGNED_IN)
def room(request: HttpRequest, number: str) -> HttpResponse:
    """Store the room of a car: its owner's work, or a scrutineer's."""
    car = car_of(request, number)
    sizes = RoomSize.objects.current().filter(car=car)
    form = RoomForm(request.POST or None, now=dict(sizes.values_list("size", "text")))
    if form.is_valid():
        try:
            stored = store_room_sizes(car, form.texts(), act=act_of(request))
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            said = _("%(count)d sizes stored.") % {"count": len(stored)}
            messages.success(request, said)
            return redirect("inspection:car", number=number)
    return render(
        request,
        "inspection/room.html",
        {"car": car, "form": form},
        status=422 if form.errors else 200,
    )
