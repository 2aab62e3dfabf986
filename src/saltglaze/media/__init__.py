"""Decode and encode film and sound: the only room that imports the video library."""
