"""The commands of `heeldepth`, one file for each thing they are about."""
