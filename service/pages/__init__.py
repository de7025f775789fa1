"""Pages for people: server-rendered, on the same actions and domain code as the API."""
