"""What can be wrong with a template, a word list or a state read back.

DialogError
+-- WordingError   a template is missing, or asks for a value that was not given
+-- WordsError     the keywords of a language cannot be read
+-- StateError     a stored state or a button's payload is not one of ours
"""

from __future__ import annotations


class DialogError(Exception):
    """Something handed to the dialogs cannot be used."""


class WordingError(DialogError):
    """A template is missing, or asks for a value that was not given."""


class WordsError(DialogError):
    """The keywords of a language cannot be read."""


class StateError(DialogError):
    """A stored state, or a button's payload, is not one of ours. Nothing was changed."""
