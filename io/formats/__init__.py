"""Exchange formats, one module each."""
