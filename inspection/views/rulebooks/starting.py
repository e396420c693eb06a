"""Rulebooks to start from: what each holds, and taking one as a draft."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from inspection.actions.exchange import import_edition
from inspection.files.starting_rulebooks import (
    StartingBook,
    classes_of,
    read_starting_book,
)
from inspection.forms.rulebooks.starting import StartForm
from inventory.access import allow
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page


@require_GET
@allow(Ability.WRITE_RULEBOOKS)
def starting_rulebooks(request: HttpRequest) -> HttpResponse:
    """List the rulebooks that come with the program."""
    books = [
        (book, text, classes_of(text))
        for book in StartingBook
        for text in [read_starting_book(book)]
    ]
    return render(
        request, "inspection/rulebooks/starting_rulebooks.html", {"books": books}
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.WRITE_RULEBOOKS)
def starting_rulebook(request: HttpRequest, book: str) -> HttpResponse:
    """Show one with all its rules; take it as a draft under the club's names."""
    if book not in {one.value for one in StartingBook}:
        msg = f"There is no rulebook “{book}” to start from."
        raise Http404(msg)
    text = read_starting_book(StartingBook(book))
    form = StartForm(request.POST or None, text=text)
    if form.is_valid():
        with form.refusing():
            made = import_edition(
                form.under_own_names(), adds_classes=True, act=act_of(request)
            )
            return redirect("inspection:edition", edition_id=made.pk)
    return form_page(
        request,
        form,
        "inspection/rulebooks/starting_rulebook.html",
        {"text": text},
    )
