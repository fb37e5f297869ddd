"""Tables of other people: which of their columns is which of ours, and in what unit."""
