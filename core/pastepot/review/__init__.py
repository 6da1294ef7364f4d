"""What is looked at before a film is shown: whether it flashes."""
