"""The ways to reach people, one adapter a file: translate in, translate out, and turn whatever
a channel throws into a `Delivery`. No channel decides anything, and none knows the store."""
