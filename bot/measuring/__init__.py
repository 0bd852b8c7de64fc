"""Measures what a protocol does to invented patients: false alarms, what is missed, how far they
climb and at what price. The real rules decide; nothing here was measured on people. No I/O."""
