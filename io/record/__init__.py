"""Records: a job frozen as issue 1, 2 …, checked to the byte, never changed."""
