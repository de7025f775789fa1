"""The trade: feet, gauge, sections, schedules, geometry and words. Standard library only."""
