"""Views: authorise, load, one action, dump."""
