"""The addresses of this installation: the two apps, and sign-in."""

from django.contrib.auth import views as auth
from django.urls import URLPattern, URLResolver, include, path

from deploy.keeping.device import shell, worker
from deploy.keeping.pages import back_up, backups, take_backup
from deploy.signing_in.pages import ChangePassword, SignIn, sign_in_code
from deploy.starting.pages import own_club
from inventory.models import Person

handler500 = "deploy.failures.server_error"


def nobody_yet() -> bool:
    """Tell whether the club has still to be begun."""
    return not Person.objects.exists()


urlpatterns: list[URLPattern | URLResolver] = [
    path(
        "sign-in",
        SignIn.as_view(extra_context={"nobody_yet": nobody_yet}),
        name="sign_in",
    ),
    path("sign-in/code", sign_in_code, name="sign_in_code"),
    path("sign-out", auth.LogoutView.as_view(), name="sign_out"),
    path("password", ChangePassword.as_view(), name="password_change"),
    path(
        "password/changed",
        auth.PasswordChangeDoneView.as_view(
            template_name="registration/password_changed.html"
        ),
        name="password_changed",
    ),
    path("api/v1/", include("deploy.api.urls")),
    path("club/own", own_club, name="own_club"),
    path("club/backups", backups, name="backups"),
    path("club/backups/make", back_up, name="back_up"),
    path("club/backups/take/<str:name>", take_backup, name="take_backup"),
    path("sheet/worker.js", worker, name="worker"),
    path("sheet/shell.html", shell, name="shell"),
    path("", include("inspection.urls")),
    path("", include("inventory.urls")),
]
