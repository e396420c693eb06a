"""Canonical JSON (RFC 8785): one text for one value, so that its hash means it."""

from typing import Any

import rfc8785


def canonical_text(value: Any) -> str:
    """Write a JSON value in its one canonical form."""
    return rfc8785.dumps(value).decode()
