"""What everything stands on: errors, files put in place whole, the background worker, display."""
