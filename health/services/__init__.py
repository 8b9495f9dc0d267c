"""Rules of health records and what follows from them."""
