"""What a browser says of itself, in words in which its owner knows it again."""

from typing import Final

#: The first that is named counts: many say that they are also the later ones.
_BROWSERS: Final = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser", "Samsung Internet"),
    ("Firefox", "Firefox"),
    ("FxiOS", "Firefox"),
    ("CriOS", "Chrome"),
    ("Chrom", "Chrome"),
    ("Safari", "Safari"),
)
_SYSTEMS: Final = (
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Android", "Android"),
    ("Windows", "Windows"),
    ("CrOS", "Chromebook"),
    ("Mac OS", "Mac"),
    ("Linux", "Linux"),
)


def device_words(user_agent: str) -> str:
    """
    Say which browser on which system, as far as it tells.

    Parameters
    ----------
    user_agent : str
        The line that a browser sends of itself.

    Returns
    -------
    str
        Such as ``Firefox on Android``.
    """
    browser = _first(user_agent, _BROWSERS) or "a browser"
    system = _first(user_agent, _SYSTEMS)
    return f"{browser} on {system}" if system else browser


def _first(text: str, words: tuple[tuple[str, str], ...]) -> str:
    return next((word for sign, word in words if sign in text), "")
