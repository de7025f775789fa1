"""An invented scenario told through the real HTTP interface."""
