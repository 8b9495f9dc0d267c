"""Pages about dogs, litters, pups and their weights.  `registration.py` lists them."""
