"""Who may come in without signing in, and what a page may use of the device."""

from collections.abc import Callable

from django.conf import settings
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import resolve_url
from django_htmx.http import HttpResponseClientRedirect
from rest_framework.views import APIView

View = Callable[..., HttpResponseBase]


class SignInRequired(LoginRequiredMiddleware):
    """
    Send a stranger to the sign-in page, unless the route is on the public list.

    The list is ``settings.PUBLIC_ROUTES`` and nothing else: a decorator on a view
    opens nothing.  Views of the API stand outside because they answer 401 by
    themselves and know tokens, of which a session knows nothing.
    """

    def process_view(
        self,
        request: HttpRequest,
        view_func: View,
        view_args: object,
        view_kwargs: object,
    ) -> HttpResponseBase | None:
        match = request.resolver_match
        if match is not None and match.view_name in settings.PUBLIC_ROUTES:
            return None
        if issubclass(getattr(view_func, "cls", object), APIView):
            return None
        if request.user.is_authenticated:
            return None
        if getattr(request, "htmx", None):
            return leave_the_page(request)
        return self.handle_no_permission(request, view_func)


def leave_the_page(request: HttpRequest) -> HttpResponse:
    """Tell htmx to go to the sign-in page, not to put it inside the one it has."""
    here = request.htmx.current_url_abs_path or "/"  # type: ignore[attr-defined]
    to = redirect_to_login(here, resolve_url(settings.LOGIN_URL))
    return HttpResponseClientRedirect(to.url)


class PermissionsPolicy:
    """Let a page use the camera, to read labels, and nothing else of the device."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers["Permissions-Policy"] = settings.PERMISSIONS_POLICY
        return response
