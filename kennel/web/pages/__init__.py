"""Pages of the platform itself: which kennel, the kennel's first page, the parts of the offline shell."""
