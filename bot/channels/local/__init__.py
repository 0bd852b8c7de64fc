"""People of a rehearsal, inside this process."""
