"""The project folder: header grammar, one schema per table, every fault."""
