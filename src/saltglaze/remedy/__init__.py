"""What to do about the line: feasible, sized, costed over the years, ranked."""
