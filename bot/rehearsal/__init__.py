"""Rehearsal: the real bot on a stepped clock, with a small made-up clinic. Nothing is canned.

Read `stage` for how time moves, `clinic` for who is there, `play` for the three weeks it prints.
"""
