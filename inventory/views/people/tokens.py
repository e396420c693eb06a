"""One's own tokens of the API: made, shown once, ended."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from inventory.access import allow, signed_in
from inventory.actions.people.tokens import MadeToken, end_token, make_token
from inventory.compute.roles import Ability
from inventory.compute.tokens import Scope
from inventory.forms.people.tokens import TokenForm
from inventory.views.acts import act_of, form_page, refusals_told


@never_cache
@require_http_methods(["GET", "POST"])
@allow(Ability.LOOK)
def tokens(request: HttpRequest) -> HttpResponse:
    """List one's own tokens; make one, and show it this once."""
    person, now = signed_in(request), timezone.now()
    form = TokenForm(request.POST or None, person=person)
    made: MadeToken | None = None
    if form.is_valid():
        cleaned = form.cleaned_data
        with form.refusing():
            scope, days = Scope(cleaned["scope"]), cleaned["days"]
            made = make_token(cleaned["name"], scope, days=days, act=act_of(request))
            form = TokenForm(person=person)
    return form_page(
        request,
        form,
        "inventory/people/tokens.html",
        {
            "made": made,
            "in_use": person.tokens.in_use(now),
        },
    )


@require_POST
@allow(Ability.LOOK)
def end(request: HttpRequest, token_id: int) -> HttpResponse:
    """End a token of one's own."""
    with refusals_told(request):
        end_token(token_id, act=act_of(request))
        messages.success(request, _("It opens nothing any more."))
    return redirect("inventory:tokens")
