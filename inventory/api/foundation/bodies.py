"""The body of a request: JSON that means the same everywhere (I-JSON, RFC 7493)."""

import json
from typing import Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser


class JsonBody(JSONParser):
    """Reads a body; refuses half a surrogate pair, and nesting without an end."""

    def parse(
        self, stream: Any, media_type: Any = None, parser_context: Any = None
    ) -> Any:
        try:
            body = super().parse(stream, media_type, parser_context)
            json.dumps(body, ensure_ascii=False).encode()
        except RecursionError as error:
            msg = "JSON parse error - it is nested too deep."
            raise ParseError(msg) from error
        except UnicodeEncodeError as error:
            msg = "JSON parse error - half a surrogate pair is no text."
            raise ParseError(msg) from error
        return body
