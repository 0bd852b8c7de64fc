"""Text messages through an SMS gateway of the clinic's own; see deploy/gateway."""
