"""`python -m bot` and the console command `nextmorning`. See `bot.commands`."""

from __future__ import annotations

from bot.commands import main

if __name__ == "__main__":
    main()
