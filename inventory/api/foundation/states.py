"""States of a thing: ETag, 304, 412 and 428 (RFC 9110)."""

import hashlib
from typing import Any

from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request

from inventory.api.foundation.problems import MEANINGS, ProblemError


def tag_of(data: Any) -> str:
    """Give the ETag of what is answered."""
    digest = hashlib.sha256(JSONRenderer().render(data)).hexdigest()
    return f'"{digest[:32]}"'


def is_known(request: Request, tag: str) -> bool:
    """Tell whether whoever asks has this state already."""
    return _names(request.headers.get("If-None-Match", ""), tag)


def need_state(request: Request, tag: str) -> None:
    """Refuse a write that does not name the state it is for, or names another."""
    if_match = request.headers.get("If-Match", "")
    if not if_match:
        raise ProblemError(428, "state_not_said", MEANINGS[428])
    if not _names(if_match, tag):
        raise ProblemError(412, "changed_since", MEANINGS[412], headers={"ETag": tag})


def _names(if_match: str, tag: str) -> bool:
    # Packed on its way out a tag comes back as a weak one: it is of the same state.
    tags = {one.strip().removeprefix("W/") for one in if_match.split(",")}
    return "*" in tags or tag in tags
