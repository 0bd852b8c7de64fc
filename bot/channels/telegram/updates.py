"""What the Bot API sends, as `Incoming`: messages, edits, pressed buttons of private chats.

Does: give each a message id that is the same when it comes again and shared by no other.
Never: fetches or acknowledges anything, reads what a message says, logs it, or lets one update
that cannot be read keep the others back. Read next: `bot.channels.telegram.channel`, which fetches.
"""

from __future__ import annotations

import logging
import re
from typing import Any

from telegram import CallbackQuery, Chat, Message, Update
from telegram.request import HTTPXRequest

from bot.ports import Incoming

WANTED = ("message", "edited_message", "callback_query")
"""The kinds of update that are asked for. Source: Bot API, Update."""

KINDS = {
    "photo": "[photo]",
    "voice": "[voice message]",
    "video_note": "[video message]",
    "video": "[video]",
    "animation": "[animation]",
    "audio": "[audio file]",
    "sticker": "[sticker]",
    "document": "[file]",
    "contact": "[contact]",
    "location": "[location]",
    "poll": "[poll]",
}
"""What stands for a message without words, so that a person sees that something came. In this
order, because an animation is a document too (Bot API, Message)."""

WITHOUT_WORDS = "[no text]"
"""What stands for anything else without words."""

COMMAND = re.compile(r"/([A-Za-z0-9_]{1,32})(?:@[A-Za-z0-9_]+)?")
"""A command alone. Source: Bot API, BotCommand (1-32 letters, digits and underscores)."""

_log = logging.getLogger(__name__)


def message_id(chat_id: int, number: int) -> str:
    """Message ids count within a chat (Bot API, Message), so the chat belongs to it."""
    return f"{chat_id}:{number}"


def incoming(channel: str, update: Update) -> Incoming | None:
    """An update as a message, None (and a line in the log) for what is not for us."""
    try:
        return _incoming(channel, update)
    except Exception as error:  # whatever an odd one lacks: the others of its batch are to come in
        name = type(error).__name__
        _log.error("%s: update %s could not be read (%s)", channel, update.update_id, name)
        return None


def _incoming(channel: str, update: Update) -> Incoming | None:
    query, message = update.callback_query, update.message or update.edited_message
    if query is not None:
        chat = query.message.chat if query.message else None
        if chat is None or chat.type == Chat.PRIVATE:
            return _from_press(channel, query)
    elif message is None:
        _log.error("%s: update %s could not be read", channel, update.update_id)
        return None
    elif message.chat.type == Chat.PRIVATE:
        return _from_message(channel, message, update)
    _log.info("%s: update %s is not from a private chat", channel, update.update_id)
    return None


def _from_message(channel: str, message: Message, update: Update) -> Incoming | None:
    original = message_id(message.chat.id, message.message_id)
    edited = update.edited_message is not None
    if edited and message.location is not None:
        return None  # a shared live location moves every few seconds, and says nothing new
    sent_at = message.edit_date if edited else message.date
    return Incoming(
        channel=channel,
        # Two edits within a second have one edit date: the update id tells them apart.
        message_id=f"{original}:edit:{update.update_id}" if edited else original,
        address=str(message.chat.id),
        text=_spoken(message.text) or message.caption or _kind(message),
        # 0 is what `_salvaged` puts where the date could not be read.
        sent_at=sent_at if sent_at and sent_at.timestamp() > 0 else None,
        corrects=original if edited else None,
    )


def _from_press(channel: str, query: CallbackQuery) -> Incoming:
    """A pressed button. Its text is the label shown, empty where the message is too old to tell."""
    chat_id = query.message.chat.id if query.message else query.from_user.id
    markup = query.message.reply_markup if isinstance(query.message, Message) else None
    buttons = [button for row in markup.inline_keyboard for button in row] if markup else []
    labels = [button.text for button in buttons if button.callback_data == query.data]
    return Incoming(
        channel=channel,
        message_id=f"{chat_id}:press:{query.id}",
        address=str(chat_id),
        text=labels[0] if labels else "",
        pressed=query.data or "",
    )


def _spoken(text: str | None) -> str | None:
    """A command of the menu as the word it stands for: "/done" is "done". One with something after
    it, such as "/start CODE", stays as it is."""
    command = COMMAND.fullmatch(text or "")
    return command[1] if command else text


def _kind(message: Message) -> str:
    return next((words for kind, words in KINDS.items() if getattr(message, kind)), WITHOUT_WORDS)


class UpdatesRequest(HTTPXRequest):
    """The connection for updates. The library reads a batch as a whole and fails as a whole, and
    a batch that fails is never acknowledged, so comes again for ever: one odd update would keep
    out everyone. Here each is tried first, and one that fails is cut down to what is needed."""

    @staticmethod
    def parse_json_payload(payload: bytes) -> dict[str, Any]:
        """The answer, with each update in a form that the library can read."""
        answer = HTTPXRequest.parse_json_payload(payload)
        if isinstance(answer.get("result"), list):
            known = (u for u in answer["result"] if isinstance(u, dict) and "update_id" in u)
            answer["result"] = [_readable(update) for update in known]
        return answer


def _readable(update: dict[str, Any]) -> dict[str, Any]:
    for tried in (update, _salvaged(update)):
        try:
            Update.de_json(tried)
        except Exception:  # whatever it is that the reader stumbles over
            continue
        return tried
    return {"update_id": update["update_id"]}


def _salvaged(update: dict[str, Any]) -> dict[str, Any]:
    """Who wrote and what, with all else left away."""
    kept: dict[str, Any] = {"update_id": update["update_id"]}
    for kind in ("message", "edited_message"):
        if isinstance(written := update.get(kind), dict):
            fields = ("message_id", "chat", "text", "caption")
            kept[kind] = {"date": 0} | {f: written[f] for f in fields if f in written}
    return kept
