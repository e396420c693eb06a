"""Why a file is not brought in as a club: one class per reason."""

from typing import ClassVar

from inventory.compute.errors import ComputeError


class ArchiveRefusedError(ComputeError):
    """A file is no archive of a club that can be brought in here."""

    code: ClassVar[str] = "archive_refused"


class NotAnArchiveError(ArchiveRefusedError):
    """It is no ZIP, or one of something else."""

    code: ClassVar[str] = "not_an_archive"


class HostileArchiveError(ArchiveRefusedError):
    """It holds what no archive of a club does, or unpacks to far too much."""

    code: ClassVar[str] = "hostile_archive"


class OtherVersionError(ArchiveRefusedError):
    """It was written by a program whose tables differ."""

    code: ClassVar[str] = "other_version"


class DamagedArchiveError(ArchiveRefusedError):
    """Something in it is not as it was written."""

    code: ClassVar[str] = "damaged_archive"
