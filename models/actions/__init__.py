"""Verbs: (session, actor, ...) -> values. They flush and never commit."""
