"""The store: one SQLite file, one writing thread, one file a table.

Read `database` for how it is opened and written, `migrations` for its shape.
"""
