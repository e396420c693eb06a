"""A box signs in with its own token, and reads for whoever put it on its block."""

from django.utils import timezone
from rest_framework.authentication import BaseAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from inspection.actions.night.boxes import note_box_use
from inspection.loaders.night.boxes import boxes_to_show, is_on_a_block
from inspection.models import CaliperBox
from inventory.actions.people.tokens import secret_hash
from inventory.api.foundation.problems import ProblemError
from inventory.api.foundation.sign_in import CHALLENGE, bearer
from inventory.models import Person


class BoxAuthentication(BaseAuthentication):
    """``Authorization: Bearer fbx_…``; a box that is on no block is refused."""

    def authenticate(self, request: Request) -> tuple[Person, CaliperBox] | None:
        text = bearer(request)
        if not text:
            return None
        box = boxes_to_show().filter(code_sha256=secret_hash(text)).first()
        if box is None:
            raise AuthenticationFailed(
                detail="This is no box of this club, or it has ended.",
                code="token_unknown",
            )
        now = timezone.now()
        note_box_use(box, at=now)
        person = box.put_by
        if person is None or not is_on_a_block(box, now):
            raise ProblemError(
                409,
                "on_no_block",
                f"The box “{box}” is on no block: a scrutineer puts it on one, on the "
                "page Caliper boxes.",
            )
        return person, box

    def authenticate_header(self, request: Request) -> str:
        return CHALLENGE
