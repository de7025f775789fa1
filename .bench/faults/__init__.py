"""Experiments that break things under the running service."""
