"""Why a start goes no further; each is a sentence that tells the person what to do."""


class StartRefusedError(Exception):
    """Raised with a sentence that is printed as it is."""


class NotADataFolderError(StartRefusedError):
    """The folder holds something else."""


class NoDemoClubError(StartRefusedError):
    """The folder holds one club, and no other can be chosen."""


class NoTurnError(StartRefusedError):
    """Another start does not come to an end."""


class OlderCodeError(StartRefusedError):
    """The database was brought up to date by a newer version."""
