"""A second factor as its owner is shown it while it is being added."""

from base64 import b32encode

from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.models import Person


def begun_factor(person: Person) -> TOTPDevice | None:
    """Give the phone that has not shown its first code yet."""
    return TOTPDevice.objects.filter(user=person, confirmed=False).first()


def grouped_secret(key: bytes) -> str:
    """Write the secret for who types it instead of scanning: groups of four."""
    text = b32encode(key).decode()
    return " ".join(text[start : start + 4] for start in range(0, len(text), 4))
