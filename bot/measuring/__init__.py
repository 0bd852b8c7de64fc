"""Measures what a protocol does to invented patients: false alarms and slow ones. No I/O."""
