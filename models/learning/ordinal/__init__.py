"""Ordinal regression with a Gaussian prior, reporter offsets and gross errors; knows no socks."""
