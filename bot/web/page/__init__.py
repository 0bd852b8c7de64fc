"""The clinic page: what a clinician reads and presses in a browser. Its screens read the store on a
connection of their own; whatever changes something is a command of the chat, carried out by the
same function. Nothing is decided or written here.
"""
