"""The ways to reach people: a folder a channel, with its settings, its checks and its line in
`registry`. Nothing here knows a patient, or decides anything."""
