"""The clinic's second way out: a command or an address, for when all else failed."""
