"""Pages and doors over HTTP. Each file is one of them; none decides anything."""
