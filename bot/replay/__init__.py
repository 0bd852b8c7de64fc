"""Replays a paper diary through the rules, day by day: `diary` reads it, `walk` asks the rules,
`report` prints what they say, `picture` draws it. No store, no clock, no channel."""
