"""People outside the kennel: buyers, owners, vets.  Their personal values live in this one table, so that erasing a
person means emptying one row; the journal says that a field changed, never what it held."""
