"""A made-up channel: a folder, and a line in the registry."""
