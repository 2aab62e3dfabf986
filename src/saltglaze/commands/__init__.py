"""One file a command: reads the folder, calls the middle, writes what came out."""
