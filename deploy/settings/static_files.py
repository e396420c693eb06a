"""Static files by the hash of what is in them, so that a browser may keep them."""

from whitenoise.storage import CompressedManifestStaticFilesStorage

# Of our own scripts alone: what comes in packages imports what is not there.
_IMPORT = r'(?P<matched>from "(?P<url>\./[\w.-]+\.js)";)'


class HashedFiles(CompressedManifestStaticFilesStorage):  # type: ignore[misc]  # untyped
    """Writes the hashed name into what imports a script, as into what draws a file."""

    patterns = (
        *CompressedManifestStaticFilesStorage.patterns,
        *(
            (f"{app}/*.js", ((_IMPORT, 'from "%(url)s";'),))
            for app in ("inspection", "inventory")
        ),
    )
