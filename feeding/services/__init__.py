"""Rules applied to whole lists of feeding records before they are written, and what follows from them."""
