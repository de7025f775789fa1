"""What is stored: typed rows that know no rules, and the engine that they live in."""
