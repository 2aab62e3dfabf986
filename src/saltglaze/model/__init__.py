"""The typed records that every other package speaks in. No behaviour beyond validation."""
