"""What can go wrong in the bot, with messages for people.

BotError
+-- SettingsError      the configuration; lists every problem found
+-- StoreError         the database cannot be used
|   +-- StoreNewerError    it was written by a newer version
|   +-- NotFoundError      no such person, escalation or invitation
+-- RefusedError       somebody may not do this, or it contradicts what is kept
+-- PortTakenError     another program listens there
"""

from __future__ import annotations


class BotError(Exception):
    """Something in the bot went wrong; the message says what was expected."""


class SettingsError(BotError):
    """The configuration cannot be used. `problems`: one sentence each, with the key."""

    def __init__(self, problems: tuple[str, ...]) -> None:
        super().__init__("\n".join(problems))
        self.problems = problems


class StoreError(BotError):
    """The database cannot be used."""


class StoreNewerError(StoreError):
    """The database was written by a newer version of the program."""


class NotFoundError(StoreError):
    """What was named is not in the store."""


class RefusedError(BotError):
    """The action is not allowed, or contradicts what is kept."""


class PortTakenError(BotError):
    """Another program listens on the port."""
