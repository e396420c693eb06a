"""
Requests that are sent twice: an Idempotency-Key gets its answer once.

The answer is kept in the transaction of what it answers, so that there is either both
or neither; it is given again for a day, to the same person.
"""

import datetime as dt
import hashlib
import json
import re
from collections.abc import Callable
from typing import Any, Final

from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError, transaction
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.foundation.problems import FieldError, ProblemError
from inventory.models import KeptAnswer, Person

HEADER: Final = "Idempotency-Key"
REPLAYED: Final = "Idempotency-Replayed"
LONGEST: Final = 80
#: Of what a key is made: all that is seen of ASCII.
SIGNS: Final = r"^[\x21-\x7e]*$"
_KEPT_FOR: Final = dt.timedelta(days=1)


def answered_once(
    request: Request, person: Person, do: Callable[[], Response], *, at: dt.datetime
) -> Response:
    """Do what is asked, or give the answer again that was given to this key."""
    key = request.headers.get(HEADER, "")
    if not key:
        return do()
    if len(key) > LONGEST or not re.fullmatch(SIGNS, key):
        expected = f"at most {LONGEST} signs of ASCII, no blank among them"
        raise _wrong_key(code="no_key", detail=f"“{key}”: expected {expected}.")
    digest = _hash(request)
    before = _kept(person, key, digest)
    if before is not None:
        return before
    try:
        with transaction.atomic():
            kept = KeptAnswer.objects.create(
                person=person,
                key=key,
                request_sha256=digest,
                status=0,
                body="",
                made_at=at,
            )
            answer = do()
            kept.status = answer.status_code
            kept.body = JSONRenderer().render(answer.data).decode()
            kept.save(update_fields=["status", "body"])
            KeptAnswer.objects.filter(made_at__lt=at - _KEPT_FOR).delete()
            return answer
    except IntegrityError:
        # The same request came a moment before.
        again = _kept(person, key, digest)
        if again is None:
            raise
        return again


def _kept(person: Person, key: str, digest: str) -> Response | None:
    kept = KeptAnswer.objects.filter(person=person, key=key).first()
    if kept is None:
        return None
    if kept.request_sha256 != digest:
        raise _wrong_key(
            code="key_used", detail="This key was used for another request."
        )
    data: Any = json.loads(kept.body) if kept.body else None
    return Response(data, status=kept.status, headers={REPLAYED: "true"})


def _hash(request: Request) -> str:
    body = json.dumps(request.data, sort_keys=True, default=_said)
    text = f"{request.method} {request.get_full_path()}\n{body}"
    return hashlib.sha256(text.encode()).hexdigest()


def _said(value: object) -> str:
    """Write what JSON has no word for; of a file what is in it, not its name alone."""
    if not isinstance(value, UploadedFile):
        return str(value)
    content = hashlib.file_digest(value, "sha256").hexdigest()
    value.seek(0)
    return f"{value.name} {content}"


def _wrong_key(*, code: str, detail: str) -> ProblemError:
    error = FieldError(field=HEADER, code=code, detail=detail)
    return ProblemError.of_errors(422, [error])
