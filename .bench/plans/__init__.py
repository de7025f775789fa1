"""How fast do defaults become right, by how the test knits are chosen? See `__main__`."""
