"""Messages in and out: kept before they are acknowledged, sent by urgency, tried again.

Room for what is the same on every channel. Not for one channel's ways: see `channels`.
"""
