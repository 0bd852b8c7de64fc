"""rules decides: pure functions over frozen values. No I/O, no clock, no text for a patient."""
