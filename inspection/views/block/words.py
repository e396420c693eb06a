"""What the scripts of the block page say, so that it can be translated."""

from django.utils.translation import gettext as _


def block_words() -> dict[str, str]:
    """Give the sentences by name; braces stand for what a script puts in."""
    return {
        "taken_of": _("{done} of {all} measured"),
        "all_taken": _("Everything asked tonight is taken."),
        "not_there_yet": _("Nothing else to read; {n} not on the sheet yet."),
        "many_ask": _("{n} readings wait for your answer"),
        "was_it": _("{label}: was it {meant}?"),
        "nothing_typed": _("Nothing is typed; expected a figure, such as 12.34."),
        "too_long": _("“{typed}” is too long for a reading."),
        "bounced": _("“{typed}” came twice within 0.3 s: taken once."),
        "here_already": _("On the sheet already: {value}."),
        "last": _("{label}: {value}"),
        "sending": _("{label}: {typed}, on its way"),
        "struck": _("Struck: {label}, {typed}."),
        "waiting_one": _("1 reading waiting to be sent."),
        "waiting_many": _("{n} readings waiting to be sent."),
        "no_answer": _("The server does not answer; what you take is kept here."),
        "signed_out": _("You are signed out; what you take is kept here."),
        "sign_in": _("Sign in again"),
        "other_person": _(
            "Taken under another sign-in on this device; that person can send it."
        ),
        "goes_on": _("{name} goes on here."),
        "wait": _("Too many wrong tries: wait some minutes, or sign in elsewhere."),
        "no_answer_now": _("The server does not answer; nothing has changed hands."),
        "other_sheet": _("Readings of sheet {sheet} still wait on this device"),
        "is_right": _("Keep {typed}"),
        "it_was": _("It was {meant}"),
        "it_goes": _("{typed} goes"),
        "it_stops": _("{typed} stops"),
        "stray": _("Typed while no field was ready: {typed}"),
        "take_as": _("Take it as: {label}"),
        "fault": _(
            "The server failed over this reading three times ({status}). It is kept "
            "here: send it again later, or drop it."
        ),
        "refused": _("The server refused it ({status})."),
        "unsent_seal": _(
            "Not sealed: {n} readings are not on the sheet yet; see the tray."
        ),
        "left_over": _("Not on the sheet: it was sealed before this came."),
        "open_sheet": _("Open the sheet"),
        "choose": _("choose"),
        "strike_it": _("Strike {typed}, because"),
    }
