"""What a person reads."""
