"""One patient as the bot knows them: read from the store once, spoken to, decided on, asked again.

Room for what every message and prompt of a patient needs. What a message means: `patients`.
"""
