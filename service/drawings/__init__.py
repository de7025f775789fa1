"""Drawings: coordinates worked out here, put into hand-written SVG templates."""
