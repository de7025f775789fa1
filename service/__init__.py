"""The web service and the command line."""
