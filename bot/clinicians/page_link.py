"""A way into the clinic page for somebody who is already verified on a channel: "page" gives a link
that is good once, for a few minutes; "page off" ends every link, session and passkey of theirs."""

from __future__ import annotations

from bot.clinicians.refusal import NotDoneError
from bot.clinicians.request import Reply, Request
from bot.store import page_keys, passkeys
from dialogs.clinician_commands import OpenPage, WhyNot
from dialogs.turn import Said, Value

ENTRY = "/page/in"
"""Where a link leads. Opening it uses up nothing: chat programs look at links by themselves."""


def open_page(request: Request, command: OpenPage) -> Reply:
    """Give a link, or end what was given. Raises NotDoneError where the clinic has no page."""
    if command.off:
        ended = page_keys.end_all(request.store, request.person.id, request.now)
        ended += passkeys.forget(request.store, request.person.id)
        request.audit("page off", ended=ended)
        return Reply(Said("clinician/page-off"))
    if not request.clinic.page_url:
        raise NotDoneError(WhyNot.NO_PAGE)
    key = page_keys.make_link(request.store, request.person.id, request.now)
    request.audit("page link")
    link = f"{request.clinic.page_url}{ENTRY}?key={key}"
    values: dict[str, Value] = {"link": link, "minutes": page_keys.LINK_MINUTES}
    return Reply(Said("clinician/page-link", values))
