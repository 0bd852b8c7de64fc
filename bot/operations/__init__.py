"""What keeps the machine and its owner well: checks, copies, erasure, figures.

Room for daily and owner's work. Nothing here speaks to a patient.
"""
