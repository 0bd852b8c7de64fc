"""dialogs talks: (state, message) -> what to keep, what to say, the next state. Pure; no I/O.

Start at `patient` (what a patient may say), `advising` (what was decided, in words), `clinician`
(what a clinician may say), `wording` (the text itself).
"""
