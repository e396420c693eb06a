"""
Settings that the local, the shared and the test installation have in common.

Nothing secret and nothing that depends on the machine stands here; goals S1 to
S9 of the security list are named where a setting answers one.
"""

import tomllib
from pathlib import Path
from typing import Any

from django.utils.translation import gettext_lazy as _

BASE_DIR = Path(__file__).resolve().parents[2]
with (BASE_DIR / "pyproject.toml").open("rb") as _project:
    #: What a printed sheet names as the software that judged it.
    VERSION: str = tomllib.load(_project)["project"]["version"]

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "axes",
    "csp",
    "django_htmx",
    "rest_framework",
    "inventory",
    "inspection",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "deploy.middleware.PermissionsPolicy",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "deploy.middleware.SignInRequired",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "deploy.urls"
WSGI_APPLICATION = "deploy.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "deploy" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "deploy.context_processors.installation",
            ],
        },
    },
]

# --- who may come in ---------------------------------------------------------

AUTH_USER_MODEL = "inventory.Person"
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "sign_in"

# Every route needs sign-in unless its name stands here (S16: at most eight).
# What fits, and a jig, are worked out for strangers from what they type.
PUBLIC_ROUTES = frozenset(
    {"sign_in", "live", "ready", "inspection:will_it_fit", "inspection:jig_sheet"}
)

AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]

PASSWORD_HASHERS = ["deploy.hashers.ModestArgon2Hasher"]

AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {
        "NAME": (
            "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"
        ),
        "OPTIONS": {"user_attributes": ("sign_in_name", "name")},
    },
    {"NAME": "deploy.password_rules.CommonPasswordValidator"},
    {"NAME": "deploy.password_rules.OwnWordsValidator"},
]

# The waits are the handler's own (S8, S9): kept in the database, so that every
# worker sees them and a restart does not forget them.
AXES_HANDLER = "deploy.throttle.DoublingWaitHandler"
AXES_LOCKOUT_CALLABLE = "deploy.throttle.locked_out"
AXES_CLIENT_IP_CALLABLE = "deploy.throttle.client_address"
AXES_USERNAME_FORM_FIELD = "username"
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_DISABLE_ACCESS_LOG = True
AXES_VERBOSE = False

# Addresses whose X-Forwarded-For is believed (S31).
TRUSTED_PROXIES: frozenset[str] = frozenset()

SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
# Messages live in the session: one cookie less to protect.
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
}

# --- what a page may do ------------------------------------------------------

# One dict (S4), so that it moves to SECURE_CSP when Django brings its own.
SELF, NONE = "'self'", "'none'"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "connect-src": [SELF],
        "font-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "object-src": [NONE],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "form-action": [SELF],
    },
}
PERMISSIONS_POLICY = "camera=(self), microphone=(), geolocation=(), payment=(), usb=()"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

DATA_UPLOAD_MAX_NUMBER_FIELDS = 1000
# A function without arguments: while it says yes, no large file is taken in.
LARGE_IMPORT_GATE = "inspection.loaders.open_nights.is_a_night_open"

# --- language, time, files ---------------------------------------------------

LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en-gb", _("British English"))]
LOCALE_PATHS = [BASE_DIR / "deploy" / "locale"]
USE_I18N = True
# A thousand separator would let 12.345 be read as 12345 in some languages.
USE_THOUSAND_SEPARATOR = False
USE_TZ = True
TIME_ZONE = "Europe/London"

STATIC_URL = "static/"
STATICFILES_DIRS = [
    folder for folder in [BASE_DIR / "deploy" / "static"] if folder.is_dir()
]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "line": {
            "format": "{asctime} {levelname} {name}: {message}",
            "style": "{",
        },
    },
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {
        # Django's own handler writes only with DEBUG on and mails the admins.
        "django": {"handlers": ["console"], "level": "WARNING", "propagate": False},
    },
}
