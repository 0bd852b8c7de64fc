"""What clinicians say to the bot, what they may do, and what they are shown.

Room for commands, roles and lists. Not for how a worry is chased: see `escalations`.
"""
