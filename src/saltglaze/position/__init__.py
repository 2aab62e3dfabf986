"""Where things are: station, clock, plan, profile, digs, and how sure."""
