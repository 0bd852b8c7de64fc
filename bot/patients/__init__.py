"""What patients send, and what they are sent unasked.

Room for the pass of a message and for due prompts. Clinicians' commands: `clinicians`.
"""
