"""Private chats on Telegram, by the Bot API: asked for, or brought to us."""
