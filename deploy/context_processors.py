"""What every page may say of the installation it comes from."""

from django.http import HttpRequest


def installation(request: HttpRequest) -> dict[str, object]:
    """Tell whether the connection is open to onlookers, for the banner."""
    return {"plain_http": not request.is_secure()}
