"""Rules applied to whole lists of records before they are written, and what follows from them."""
