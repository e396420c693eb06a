"""The addresses of this installation: the two apps, sign-in, and its health."""

from django.contrib.auth import views as auth
from django.urls import URLPattern, URLResolver, include, path

from deploy import health

urlpatterns: list[URLPattern | URLResolver] = [
    path("live", health.live, name="live"),
    path("ready", health.ready, name="ready"),
    path(
        "sign-in",
        auth.LoginView.as_view(
            template_name="registration/sign_in.html", redirect_authenticated_user=True
        ),
        name="sign_in",
    ),
    path("sign-out", auth.LogoutView.as_view(), name="sign_out"),
    path(
        "password",
        auth.PasswordChangeView.as_view(
            template_name="registration/password_change.html",
            success_url="/password/changed",
        ),
        name="password_change",
    ),
    path(
        "password/changed",
        auth.PasswordChangeDoneView.as_view(
            template_name="registration/password_changed.html"
        ),
        name="password_changed",
    ),
    path("", include("inventory.urls")),
    path("", include("inspection.urls")),
]
