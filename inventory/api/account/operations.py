"""Who asks."""

from typing import Any

from django.middleware.csrf import get_token

from inventory.api.account.gives import WhoAsks
from inventory.api.foundation.operations import Call, reads
from inventory.compute.roles import Ability
from inventory.compute.tokens import Scope
from inventory.models import ApiToken


@reads(WhoAsks)
def who_asks(call: Call) -> dict[str, Any]:
    """Tell who asks, and what they may do."""
    token: Any = call.request.auth
    person = call.person
    is_token = isinstance(token, ApiToken)
    return {
        "id": person.pk,
        "name": person.name,
        "roles": sorted(person.roles),
        "abilities": [ability for ability in Ability if person.may(ability)],
        "scope": token.scope if is_token else Scope.ALL,
        "csrf_token": "" if is_token else get_token(call.request._request),
    }
