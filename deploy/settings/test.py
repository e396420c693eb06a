"""Settings of the test runs."""

SECRET_KEY = "not-a-secret-only-tests-use-this-key-0123456789-abcdefghij"
INSTALLED_APPS: list[str] = []
DATABASES = {"default": {"ENGINE": "django.db.backends.sqlite3", "NAME": ":memory:"}}
