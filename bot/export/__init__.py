"""Hands over all that is kept of one patient: to them, to another clinic, to a paper diary's tools.
It reads and changes nothing. `fhir` for programs, `diary` for `nextmorning replay`."""
