"""The page that begins a club: at an address that works once."""

from django.contrib.auth import login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from inventory.access import open_to_all, visitor
from inventory.actions.people.beginning import begin_club, check_beginning
from inventory.actions.refusals import RefusedError
from inventory.forms.club import BeginForm
from inventory.views.acts import form_page

_BACKEND = "django.contrib.auth.backends.ModelBackend"


@never_cache
@require_http_methods(["GET", "POST"])
@open_to_all
def begin(request: HttpRequest, code: str) -> HttpResponse:
    """Ask who begins the club, make them the admin and let them in."""
    if visitor(request) is not None:
        return redirect("/")
    form = BeginForm(request.POST or None)
    try:
        check_beginning(code, at=timezone.now())
        if form.is_valid():
            person = begin_club(code, form.founder(), at=timezone.now())
            login(request, person, backend=_BACKEND)
            return redirect("/")
    except RefusedError as refusal:
        if refusal.field:
            form.refuse(refusal)
            return begin_page(request, form, code)
        context = {"sentence": refusal.sentence}
        return render(request, "inventory/club/no_beginning.html", context, status=404)
    return begin_page(request, form, code)


def begin_page(request: HttpRequest, form: BeginForm, code: str) -> HttpResponse:
    return form_page(
        request,
        form,
        "inventory/club/begin.html",
        {"code": code},
    )
