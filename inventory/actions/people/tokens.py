"""Tokens of the API: made by their owner, ended by them or with them."""

import datetime as dt
import hashlib
import secrets
from dataclasses import dataclass
from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Ability
from inventory.compute.tokens import (
    ABILITIES_OF_SCOPE,
    MOST_DAYS,
    TOKEN_SIGN,
    Scope,
)
from inventory.models import ApiToken, Person
from inventory.words.enumerations import word_of

_MOST_TOKENS: Final = 20
_SECRET_BYTES: Final = 24
#: The last use is written down at most so often.
_USE_NOTED_EVERY: Final = dt.timedelta(minutes=1)


@dataclass(frozen=True, kw_only=True)
class MadeToken:
    """A token with its text, which is shown once and kept nowhere."""

    token: ApiToken
    text: str


def new_secret(sign: str) -> str:
    """Give a text that nobody guesses (192 bits), with a sign it is known by."""
    return sign + secrets.token_urlsafe(_SECRET_BYTES)


def secret_hash(text: str) -> str:
    """Hash such a text; it is long enough to need no salt and no slow hash."""
    return hashlib.sha256(text.encode()).hexdigest()


@transaction.atomic
def make_token(name: str, scope: Scope, *, days: int, act: Act) -> MadeToken:
    """
    Make a token for whoever asks.

    Writes an ApiToken; audits ``token.made``.  Raises RefusedError for a scope that
    is above what they may do themselves, a time that is too long, or too many.
    """
    if not any(act.by.may(one) for one in ABILITIES_OF_SCOPE[scope]):
        raise RefusedError(
            code="scope_above_role",
            sentence=_("“%(scope)s” is more than you may do yourself.")
            % {"scope": word_of(scope)},
            field="scope",
        )
    if not 1 <= days <= MOST_DAYS:
        raise RefusedError(
            code="days_out_of_range",
            sentence=_("“%(days)s” days: 1 to %(most_days)s were expected.")
            % {"days": days, "most_days": MOST_DAYS},
            field="days",
        )
    in_use = ApiToken.objects.in_use(act.at).filter(person=act.by).count()
    if in_use >= _MOST_TOKENS:
        raise RefusedError(
            code="too_many_tokens",
            sentence=_("You have %(in_use)s tokens; end one that you do not use.")
            % {"in_use": in_use},
        )
    text = new_secret(TOKEN_SIGN)
    token = ApiToken.objects.create(
        person=act.by,
        name=name,
        scope=scope,
        code_sha256=secret_hash(text),
        made_at=act.at,
        ends_at=act.at + dt.timedelta(days=days),
    )
    record_event(
        "token.made", subject=f"token {token.pk}", act=act, scope=scope, days=days
    )
    return MadeToken(token=token, text=text)


@transaction.atomic
def end_token(token_id: int, *, act: Act, of: Person | None = None) -> None:
    """
    End a token of one's own, or of another; it opens nothing from then on.

    ``of``: whose it is, where an admin ends it.  Writes the ApiToken; audits
    ``token.ended``.  Raises RefusedError where it has ended already, or is somebody
    else's.
    """
    owner = of or act.by
    if owner != act.by and not act.by.may(Ability.MANAGE_PEOPLE):
        raise RefusedError(
            code="not_yours", sentence=_("That token is somebody else's to end.")
        )
    ended = ApiToken.objects.filter(pk=token_id, person=owner, ended_at=None).update(
        ended_at=act.at
    )
    if not ended:
        raise RefusedError(
            code="ended_already", sentence=_("That token has ended already.")
        )
    record_event("token.ended", subject=f"token {token_id}", act=act, owner=owner.pk)


def end_tokens_of(person: Person, *, at: dt.datetime) -> None:
    """End all tokens of a person; part of an action."""
    ApiToken.objects.filter(person=person, ended_at=None).update(ended_at=at)


def note_use(token: ApiToken, *, at: dt.datetime) -> None:
    """
    Note when a token was last used, once a minute at most.

    Writes the ApiToken; no audit row, what it does is audited.
    """
    last = token.last_used_at
    if last is None or at - last >= _USE_NOTED_EVERY:
        ApiToken.objects.filter(pk=token.pk).update(last_used_at=at)
