"""What the commands say that take rows into a study and send them, one file for each language."""
