"""The estimate and everything derived from it; knows no file and no page."""
