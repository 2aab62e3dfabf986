"""Whether the line drains: partly full pipe, fixtures, slopes, deposits, sags."""
