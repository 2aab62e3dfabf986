"""What a finding means: its code, its grade, its change since last time, in plain words."""
